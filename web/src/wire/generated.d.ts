// SPDX-License-Identifier: Apache-2.0
// Written by tools/types.mjs; not by hand.
export interface paths {
  "/about": {
    /** Program and papers */
    get: {
      parameters: {
        header?: {
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
      };
      responses: {
        /** @description done, or not done and why */
        200: {
          content: {
            "application/json": components["schemas"]["about"] | components["schemas"]["not_done"];
          };
        };
        default: components["responses"]["error"];
      };
    };
  };
  "/stand": {
    /** All bikes: held back first, then by what is due next */
    get: {
      parameters: {
        header?: {
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
      };
      responses: {
        /** @description done, or not done and why */
        200: {
          content: {
            "application/json": components["schemas"]["stand"] | components["schemas"]["not_done"];
          };
        };
        default: components["responses"]["error"];
      };
    };
  };
  "/bikes": {
    /** A new bike, from a description or from the six questions */
    post: {
      parameters: {
        header: {
          "X-Brakewright-Token": components["parameters"]["token"];
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
      };
      requestBody: {
        content: {
          "application/json": components["schemas"]["new_bike"];
        };
      };
      responses: {
        /** @description not done, and why */
        200: {
          content: {
            "application/json": components["schemas"]["not_done"];
          };
        };
        /** @description done */
        201: {
          content: {
            "application/json": components["schemas"]["made"];
          };
        };
        default: components["responses"]["error"];
      };
    };
  };
  "/bikes/{id}": {
    /** One bike: parts, readings, rides, verdict */
    get: {
      parameters: {
        header?: {
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      responses: {
        /** @description done, or not done and why */
        200: {
          content: {
            "application/json": components["schemas"]["bike"] | components["schemas"]["not_done"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    parameters: {
      path: {
        id: components["schemas"]["id"];
      };
    };
  };
  "/bikes/{id}/answer": {
    /** The answer as last computed for what the papers say now; 404 not_computed: a job has to run first */
    get: {
      parameters: {
        header?: {
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      responses: {
        /** @description done, or not done and why */
        200: {
          content: {
            "application/json": components["schemas"]["answer"] | components["schemas"]["not_done"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    parameters: {
      path: {
        id: components["schemas"]["id"];
      };
    };
  };
  "/bikes/{id}/brakes": {
    /** Numbers for a drawing of both brakes to scale */
    get: {
      parameters: {
        header?: {
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      responses: {
        /** @description done, or not done and why */
        200: {
          content: {
            "application/json": components["schemas"]["brakes"] | components["schemas"]["not_done"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    parameters: {
      path: {
        id: components["schemas"]["id"];
      };
    };
  };
  "/bikes/{id}/check": {
    /** The check before a ride */
    get: {
      parameters: {
        header?: {
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      responses: {
        /** @description done, or not done and why */
        200: {
          content: {
            "application/json": components["schemas"]["check_list"] | components["schemas"]["not_done"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    /** What was found */
    post: {
      parameters: {
        header: {
          "X-Brakewright-Token": components["parameters"]["token"];
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      requestBody: {
        content: {
          "application/json": components["schemas"]["check_done"];
        };
      };
      responses: {
        /** @description done, or not done and why */
        200: {
          content: {
            "application/json": components["schemas"]["check_list"] | components["schemas"]["not_done"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    parameters: {
      path: {
        id: components["schemas"]["id"];
      };
    };
  };
  "/bikes/{id}/rides": {
    /** A ride file, as recorded, or a table of described rides; at most 64 MiB */
    post: {
      parameters: {
        query: {
          name: string;
          by?: string;
        };
        header: {
          "X-Brakewright-Token": components["parameters"]["token"];
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      requestBody: {
        content: {
          "application/octet-stream": string;
        };
      };
      responses: {
        /** @description done, or not done and why */
        200: {
          content: {
            "application/json": components["schemas"]["ride_added"] | components["schemas"]["not_done"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    parameters: {
      path: {
        id: components["schemas"]["id"];
      };
    };
  };
  "/bikes/{id}/readings": {
    /** One reading */
    post: {
      parameters: {
        header: {
          "X-Brakewright-Token": components["parameters"]["token"];
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      requestBody: {
        content: {
          "application/json": components["schemas"]["new_reading"];
        };
      };
      responses: {
        /** @description not done: why, or what is asked first */
        200: {
          content: {
            "application/json": components["schemas"]["asked"] | components["schemas"]["not_done"];
          };
        };
        /** @description done */
        201: {
          content: {
            "application/json": components["schemas"]["reading_added"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    parameters: {
      path: {
        id: components["schemas"]["id"];
      };
    };
  };
  "/bikes/{id}/readings/rows": {
    /** Pasted rows of readings */
    post: {
      parameters: {
        header: {
          "X-Brakewright-Token": components["parameters"]["token"];
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      requestBody: {
        content: {
          "application/json": components["schemas"]["rows"];
        };
      };
      responses: {
        /** @description done, or not done and why */
        200: {
          content: {
            "application/json": components["schemas"]["rows_added"] | components["schemas"]["not_done"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    parameters: {
      path: {
        id: components["schemas"]["id"];
      };
    };
  };
  "/bikes/{id}/hold": {
    /** Holds the bike back */
    post: {
      parameters: {
        header: {
          "X-Brakewright-Token": components["parameters"]["token"];
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      requestBody: {
        content: {
          "application/json": components["schemas"]["hold"];
        };
      };
      responses: {
        /** @description done, or not done and why */
        200: {
          content: {
            "application/json": components["schemas"]["held_now"] | components["schemas"]["not_done"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    parameters: {
      path: {
        id: components["schemas"]["id"];
      };
    };
  };
  "/bikes/{id}/proof": {
    /** Proof stops that are kept, and what they say */
    get: {
      parameters: {
        header?: {
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      responses: {
        /** @description done, or not done and why */
        200: {
          content: {
            "application/json": components["schemas"]["proof_page"] | components["schemas"]["not_done"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    /** Keeps one proof stop */
    post: {
      parameters: {
        header: {
          "X-Brakewright-Token": components["parameters"]["token"];
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      requestBody: {
        content: {
          "application/json": components["schemas"]["proof_entry"];
        };
      };
      responses: {
        /** @description not done: why, or what is asked first */
        200: {
          content: {
            "application/json": components["schemas"]["asked"] | components["schemas"]["not_done"];
          };
        };
        /** @description kept, or there already */
        201: {
          content: {
            "application/json": components["schemas"]["proof_page"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    parameters: {
      path: {
        id: components["schemas"]["id"];
      };
    };
  };
  "/bikes/{id}/proof/recorded": {
    /** Keeps stops of a recorded ride as proof stops of the brake that was pulled alone; a job of kind recorded_stops finds them first */
    post: {
      parameters: {
        header: {
          "X-Brakewright-Token": components["parameters"]["token"];
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      requestBody: {
        content: {
          "application/json": components["schemas"]["recorded_entry"];
        };
      };
      responses: {
        /** @description not done: why, or what is asked first */
        200: {
          content: {
            "application/json": components["schemas"]["asked"] | components["schemas"]["not_done"];
          };
        };
        /** @description kept, or there already */
        201: {
          content: {
            "application/json": components["schemas"]["recorded_kept"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    parameters: {
      path: {
        id: components["schemas"]["id"];
      };
    };
  };
  "/bikes/{id}/clear": {
    /** Ends all holds by hand, or says that the proof stops that hold it back count for nothing; all else still counts */
    post: {
      parameters: {
        header: {
          "X-Brakewright-Token": components["parameters"]["token"];
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      requestBody: {
        content: {
          "application/json": components["schemas"]["clearing"];
        };
      };
      responses: {
        /** @description done, or not done and why */
        200: {
          content: {
            "application/json": components["schemas"]["held_now"] | components["schemas"]["not_done"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    parameters: {
      path: {
        id: components["schemas"]["id"];
      };
    };
  };
  "/rides/{id}": {
    /** One ride */
    get: {
      parameters: {
        query: {
          bike: components["schemas"]["id"];
        };
        header?: {
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      responses: {
        /** @description done, or not done and why */
        200: {
          content: {
            "application/json": components["schemas"]["ride_page"] | components["schemas"]["not_done"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    parameters: {
      path: {
        id: components["schemas"]["id"];
      };
    };
  };
  "/rides/{id}/series": {
    /** Its traces, thinned; 404 not_computed: a job of kind ride has to run first */
    get: {
      parameters: {
        query: {
          bike: components["schemas"]["id"];
          points?: number;
        };
        header?: {
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      responses: {
        /** @description done, or not done and why */
        200: {
          content: {
            "application/json": components["schemas"]["series"] | components["schemas"]["not_done"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    parameters: {
      path: {
        id: components["schemas"]["id"];
      };
    };
  };
  "/undo": {
    /** Takes back the last change, whole */
    post: {
      parameters: {
        header: {
          "X-Brakewright-Token": components["parameters"]["token"];
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
      };
      requestBody: {
        content: {
          "application/json": components["schemas"]["undo"];
        };
      };
      responses: {
        /** @description done, or not done and why */
        200: {
          content: {
            "application/json": components["schemas"]["undone"] | components["schemas"]["asked"] | components["schemas"]["not_done"];
          };
        };
        default: components["responses"]["error"];
      };
    };
  };
  "/jobs": {
    /** Starts long work */
    post: {
      parameters: {
        header: {
          "X-Brakewright-Token": components["parameters"]["token"];
          "X-Brakewright-Page"?: components["parameters"]["page"];
        };
      };
      requestBody: {
        content: {
          "application/json": components["schemas"]["new_job"];
        };
      };
      responses: {
        /** @description not done, and why */
        200: {
          content: {
            "application/json": components["schemas"]["not_done"];
          };
        };
        /** @description done */
        202: {
          content: {
            "application/json": components["schemas"]["made"];
          };
        };
        default: components["responses"]["error"];
      };
    };
  };
  "/jobs/{id}": {
    /** How far it is, and what came of it */
    get: {
      parameters: {
        path: {
          id: components["schemas"]["id"];
        };
      };
      responses: {
        /** @description done */
        200: {
          content: {
            "application/json": components["schemas"]["job"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    /** Cancels it */
    delete: {
      parameters: {
        header: {
          "X-Brakewright-Token": components["parameters"]["token"];
        };
        path: {
          id: components["schemas"]["id"];
        };
      };
      responses: {
        /** @description done */
        200: {
          content: {
            "application/json": components["schemas"]["job"];
          };
        };
        default: components["responses"]["error"];
      };
    };
    parameters: {
      path: {
        id: components["schemas"]["id"];
      };
    };
  };
  "/pair": {
    /** Beyond loopback: the code that the terminal shows, given once; sets a cookie. Until then everything else is 401 pairing */
    post: {
      requestBody: {
        content: {
          "application/json": components["schemas"]["pair"];
        };
      };
      responses: {
        /** @description paired */
        204: {
          content: never;
        };
        default: components["responses"]["error"];
      };
    };
  };
}
/** OneOf type helpers */
type Without<T, U> = { [P in Exclude<keyof T, keyof U>]?: never };
type XOR<T, U> = (T | U) extends object ? (Without<T, U> & U) | (Without<U, T> & T) : T | U;
type OneOf<T extends any[]> = T extends [infer Only] ? Only : T extends [infer A, infer B, ...infer Rest] ? OneOf<[XOR<A, B>, ...Rest]> : never;


export type webhooks = Record<string, never>;

export interface components {
  schemas: {
    /** @description UUID, or the SHA-256 of a content in hexadecimal digits */
    id: string;
    day: string;
    instant: string;
    /** @enum {unknown} */
    state: "no_reason_found" | "look_by" | "replace" | "held_back" | "measure_better";
    /**
     * @description what a reading is a reading of
     * @enum {unknown}
     */
    quantity: "pad_thickness" | "plate_thickness" | "rotor_thickness" | "rotor_ridge" | "run_out" | "lever_reach" | "lever_bite" | "lever_full" | "gap" | "pad_mass" | "caliper_temperature" | "rotor_temperature" | "fluid_age" | "fluid_colour" | "cable_state" | "bearing_play";
    /**
     * @description empty: a word instead of a number
     * @enum {unknown}
     */
    unit: "mm" | "degC" | "g" | "months" | "";
    error: {
      error: {
        /** @description of the table of errors, or not_found, not_computed, question, forbidden, pairing, too_large, slow, no_such_method */
        code: string;
        /** @description for people: what was found, what was expected, what to do */
        text: string;
        file?: string;
        line?: number;
      };
      /** @description the same, where a page of ours would have got it with status 200 */
      not_done?: Record<string, never>;
      /** @description status 409, code question: a person has to say something first */
      asked?: components["schemas"]["question"][];
      /** @description the same as asked */
      questions?: components["schemas"]["question"][];
    };
    /** @description asked before anything is stored; sent again with answers {code: value of the choice} */
    question: {
      code: string;
      text: string;
      choices: {
          value: string;
          text: string;
        }[];
    };
    /** @description nothing was stored: a person has to say something first */
    asked: {
      asked: components["schemas"]["question"][];
    };
    /** @description understood, and nothing was stored; status 200 to a page (X-Brakewright-Page), since what a person can bring about there is no error of HTTP; to others the status of the table of errors */
    not_done: {
      not_done: {
        /** @description bad_input, wrong_usage, cannot_read, out_of_domain or cancelled of the table of errors; not_computed: a job has to do it first */
        code: string;
        /** @description for people: what was found, what was expected, what to do */
        text: string;
        file?: string;
        line?: number;
      };
    };
    verdict: {
      do_not_ride: boolean;
      state: components["schemas"]["state"];
      /** @description "Do not ride ...", or "no reason found in 9 of 12 checks" */
      text: string;
      /** @description worst first */
      reasons: components["schemas"]["reason"][];
      notes: components["schemas"]["reason"][];
      checks_done: number;
      checks_total: number;
    };
    /** @description by a named person; null: by nobody */
    held: {
      by: string;
      why: string;
      since: components["schemas"]["instant"];
    } | null;
    about: {
      version: string;
      today: components["schemas"]["day"];
      papers: {
        /** @description the file's name without its folder */
        name: string;
        bikes: number;
        rides: number;
        readings: number;
        schema: number;
      };
      cautions: string[];
      /** @description names, for whoever enters something */
      people?: string[];
      instruments?: {
          id: components["schemas"]["id"];
          name: string;
          kind: string;
        }[];
    };
    stand_bike: {
      id: components["schemas"]["id"];
      name: string;
      kind: string;
      verdict: components["schemas"]["verdict"];
      /** @description the earliest that the last answer gave; null: held back, or not computed for what the papers say now */
      look_by: components["schemas"]["day"] | null;
      /** @description items of the check before a ride that are due */
      overdue: {
          code: string;
          text: string;
        }[];
      /** @description of the check before a ride */
      minutes: number;
      rides: number;
      last_ride: components["schemas"]["day"] | null;
      held: components["schemas"]["held"];
      readings?: number;
      last_reading?: components["schemas"]["day"] | null;
      distance_m?: number;
      /** @description there is an answer for what the papers say now */
      computed?: boolean;
      /** @description day of the newest forecast of its life; null: nothing was ever worked out, and the verdict is not clean */
      worked_out?: components["schemas"]["day"] | null;
    };
    stand: {
      today: components["schemas"]["day"];
      /** @description held back first, then by what is due next */
      bikes: components["schemas"]["stand_bike"][];
    };
    part: {
      id: components["schemas"]["id"];
      place: ("front" | "rear") | null;
      /** @enum {unknown} */
      kind: "wheel" | "rotor" | "pads" | "caliper" | "lever" | "housing" | "other";
      since: components["schemas"]["day"];
      until: components["schemas"]["day"] | null;
      /** @description its name */
      text: string;
      compound?: string | null;
      new_thickness_mm?: components["schemas"]["number_or_null"];
      plate_thickness_mm?: components["schemas"]["number_or_null"];
      plate_measured?: boolean | null;
      least_thickness_mm?: components["schemas"]["number_or_null"];
      area_mm2?: components["schemas"]["number_or_null"];
      diameter_mm?: components["schemas"]["number_or_null"];
    };
    reading: {
      id: components["schemas"]["id"];
      /** @description when it came into the papers */
      at: components["schemas"]["instant"];
      /** @enum {unknown} */
      place: "front" | "rear";
      quantity: components["schemas"]["quantity"];
      /** @description in `unit` */
      values: number[];
      instrument: string | null;
      person: string;
      note: string;
      day?: components["schemas"]["day"];
      unit?: components["schemas"]["unit"];
      /** @description fluid_colour, cable_state; of a temperature: peak, the highest mark of a strip, beside its value */
      word?: string;
      points?: ({
          side: ("left" | "right") | null;
          angle_deg: components["schemas"]["number_or_null"];
          radius_mm: components["schemas"]["number_or_null"];
          value: number;
        })[];
      with_plate?: boolean | null;
      anvil?: ("not_told" | "pointed" | "flat_jaws") | null;
      part?: components["schemas"]["id"] | null;
      verdict?: components["schemas"]["verdict"];
    };
    /** @description distance and descent are sums over the raw file, for lists only */
    ride_row: {
      id: components["schemas"]["id"];
      file: string;
      start_time: components["schemas"]["instant"] | null;
      distance_m: components["schemas"]["number_or_null"];
      duration_s: components["schemas"]["number_or_null"];
      descent_m: components["schemas"]["number_or_null"];
      /** @description told in figures: no track */
      described: boolean;
      day?: components["schemas"]["day"] | null;
      surface?: string | null;
      weather?: string | null;
      load_kg?: components["schemas"]["number_or_null"];
      /** @description mean head wind along the way, negative from behind; with wind_from_deg the wind's speed as a weather report has it */
      wind_mps?: components["schemas"]["number_or_null"];
      /** @description where the wind blows from, clockwise from true north, under 360 */
      wind_from_deg?: components["schemas"]["number_or_null"];
      air_degC?: components["schemas"]["number_or_null"];
      note?: string;
    };
    check: {
      code: string;
      state: components["schemas"]["state"];
      text: string;
      done: boolean;
      do_not_ride: boolean;
      /** @description which of the checks, or other */
      id?: string;
      limit?: components["schemas"]["number_or_null"];
      value?: components["schemas"]["number_or_null"];
      unit?: components["schemas"]["unit"];
    };
    bike: {
      id: components["schemas"]["id"];
      name: string;
      kind: string;
      /** @description what the TOML states, with its keys */
      description: Record<string, never>;
      parts: components["schemas"]["part"][];
      /** @description newest first */
      readings: components["schemas"]["reading"][];
      /** @description newest first */
      rides: components["schemas"]["ride_row"][];
      verdict: components["schemas"]["verdict"];
      checks: components["schemas"]["check"][];
      held: components["schemas"]["held"];
      /** @description of the answer for what the papers say now; null: not computed */
      answer_key: string | null;
      toml?: string;
      works?: ({
          id: components["schemas"]["id"];
          kind: string;
          place: ("front" | "rear") | null;
          day: components["schemas"]["day"];
          person: string;
          note: string;
        })[];
      happenings?: ({
          id: components["schemas"]["id"];
          kind: string;
          place: ("front" | "rear") | null;
          day: components["schemas"]["day"];
          person: string;
          note: string;
        })[];
      added?: components["schemas"]["day"];
      note?: string;
    };
    pad_now: {
      friction_thickness_mm: components["schemas"]["number_or_null"];
      sd_mm: components["schemas"]["number_or_null"];
      /** @description by a reading, and not on a plate that nobody measured */
      measured: boolean;
      day?: components["schemas"]["day"] | null;
      /** @description false: the thinner pad, nobody said which side */
      side_known?: boolean;
    };
    brake: {
      rotor: {
        diameter_mm: number;
        band_inner_mm: number;
        thickness_mm: components["schemas"]["number_or_null"];
        thickness_sd_mm: components["schemas"]["number_or_null"];
        least_thickness_mm: components["schemas"]["number_or_null"];
        measured: boolean;
        day?: components["schemas"]["day"] | null;
        diameter_given?: boolean;
        band_inner_given?: boolean;
        least_from?: ("maker" | "common_practice") | null;
      };
      pads: {
        left: components["schemas"]["pad_now"];
        right: components["schemas"]["pad_now"];
        new_mm: components["schemas"]["number_or_null"];
        plate_thickness_mm: number;
        plate_measured: boolean;
        least_friction_mm: components["schemas"]["number_or_null"];
        compound?: string;
        near_plate_mm?: number;
        least_from?: ("maker" | "common_practice") | null;
      };
      lever: {
        reach_mm: number;
        bite_mm: number;
        full_mm?: components["schemas"]["number_or_null"];
        reach_measured?: boolean;
        bite_measured?: boolean;
        /** @description this near the bar is too near */
        near_mm?: number;
      };
      actuation?: string;
      pistons_per_side?: number;
      piston_diameter_mm?: number;
      /** @description the newest turn read with a dial; null: none */
      run_out: components["schemas"]["run_out"] | null;
    };
    /** @description numbers for a drawing to scale, as of today */
    brakes: {
      front: components["schemas"]["brake"];
      rear: components["schemas"]["brake"];
    };
    check_item: {
      /** @description item, or wheel.item */
      code: string;
      text: string;
      overdue: boolean;
      /** @description day on which it was last found in order */
      last: components["schemas"]["day"] | null;
      /** @enum {unknown} */
      why?: "fault" | "after_happening" | "never" | "overdue" | "routine";
      minutes?: number;
      item?: string;
      place?: ("front" | "rear") | null;
    };
    check_list: {
      /** @description most urgent first */
      items: components["schemas"]["check_item"][];
      today?: components["schemas"]["day"];
      minutes?: number;
      verdict?: components["schemas"]["verdict"];
      cautions?: string[];
    };
    check_done: {
      ticks: ({
          code: string;
          /** @enum {unknown} */
          result: "fine" | "not_fine" | "skipped";
          note?: string;
        })[];
      by: string;
      entry_id?: components["schemas"]["entry_id"];
    };
    /** @description UUID that the page makes for one entry: sent twice it is stored once */
    entry_id: string;
    ride_page: {
      /** @description as in the answer; null: not computed yet */
      ride: components["schemas"]["ride"] | null;
      row?: components["schemas"]["ride_row"];
    };
    /** @description t_s, distance_m, descended_m, altitude_m, speed_mps, gradient, brake_power_W, brake_power_p05_W, brake_power_p95_W, bridged, and per wheel front_ and rear_: brake_power_W, rotor_degC, pad_face_degC, fluid_degC (medians), rotor and fluid with their 5 and 95 % second by second (front_rotor_p05_degC, ...); latitude_deg, longitude_deg where the recording has positions, null where it had none for a minute. At most 2,000 rows; the extremes of every trace are kept */
    series: {
      /** @description arrays of one length; null where a value is not known */
      columns: {
        [key: string]: components["schemas"]["number_or_null"][];
      };
      /** @description rows of the whole series */
      thinned_from: number;
      /** @description what the bands are */
      of?: string;
    };
    /** @description the six questions; null or left out: not known */
    six: {
      /** @enum {unknown} */
      kind: "trail" | "gravel" | "road" | "city" | "cargo";
      total_mass_kg?: components["schemas"]["number_or_null"];
      rotor_diameter_mm?: components["schemas"]["number_or_null"];
      compound?: ("organic" | "semi_metallic" | "sintered") | null;
      /** @description friction material and plate */
      pad_total_mm?: components["schemas"]["number_or_null"];
      terrain?: ("flat" | "rolling" | "hilly" | "mountain") | null;
    };
    /** @description what a person tries on the page; alters no papers. surface and weather are those of rides of which the papers say nothing; stops are given dry and wet in any case */
    settings: {
      total_mass_kg?: number;
      load_kg?: number;
      /** @enum {unknown} */
      surface?: "dry" | "wet" | "gravel" | "loose";
      /** @enum {unknown} */
      weather?: "dry" | "damp" | "wet" | "gritty";
      /** @description rise over run, negative downhill */
      grade?: number;
      /** @description mean head wind along the way, negative from behind; with wind_from_deg the wind's speed as a weather report has it, 0 or more */
      wind_mps?: number;
      /** @description where the wind blows from, clockwise from true north, 0 to 360; only with wind_mps */
      wind_from_deg?: number;
      air_degC?: number;
    };
    new_bike: {
      toml: string;
      name?: string;
      by?: string;
      entry_id?: components["schemas"]["entry_id"];
    } | {
      six: components["schemas"]["six"];
      name?: string;
      by?: string;
      entry_id?: components["schemas"]["entry_id"];
    };
    made: {
      id: components["schemas"]["id"];
      name?: string;
    };
    ride_added: {
      /** @description null: a table of described rides */
      id: components["schemas"]["id"] | null;
      already_there: boolean;
      /** @description null: a table */
      summary: components["schemas"]["ride_row"] | null;
      faults: components["schemas"]["fault"][];
      added?: number;
      there?: number;
      refused?: components["schemas"]["refused"][];
      /** @description with already_there: the bike that has it */
      bike?: components["schemas"]["id"] | null;
    };
    refused: {
      line: number;
      text: string;
    };
    new_reading: {
      /** @enum {unknown} */
      place: "front" | "rear";
      quantity: components["schemas"]["quantity"];
      /** @description numbers in the unit of the quantity, or text as typed: "2,6", "0.1 in" */
      values: (number | string)[];
      by: string;
      entry_id: components["schemas"]["entry_id"];
      /** @description of the values, seen in riding direction */
      sides?: (("left" | "right") | null)[];
      angles_deg?: number[];
      radii_mm?: components["schemas"]["number_or_null"][];
      /** @description its name in the papers */
      instrument?: string | null;
      with_plate?: ("yes" | "no") | null;
      anvil?: ("pointed" | "flat_jaws") | null;
      word?: string;
      note?: string;
      day?: components["schemas"]["day"];
      /** @description to the questions that were asked, by their code */
      answers?: {
        [key: string]: string;
      };
    };
    reading_added: {
      id: components["schemas"]["id"];
      verdict: components["schemas"]["verdict"];
      /** @description empty: they come as asked */
      questions: components["schemas"]["question"][];
      already_there?: boolean;
      text?: string;
    };
    rows: {
      /** @description rows with a header: date,bike,place,what,side,value,with_plate,by,instrument,anvil,note; comma, semicolon or tab */
      text: string;
      by?: string;
      entry_id?: components["schemas"]["entry_id"];
      /** @description keep readings that contradict earlier ones */
      sure?: boolean;
    };
    rows_added: {
      stored: number;
      refused: components["schemas"]["refused"][];
      already_there?: number;
      verdict?: components["schemas"]["verdict"];
    };
    hold: {
      by: string;
      why: string;
      entry_id?: components["schemas"]["entry_id"];
    };
    clearing: {
      by: string;
      why: string;
      /**
       * @description holds if it is not told
       * @enum {unknown}
       */
      what?: "holds" | "proof";
    };
    held_now: {
      verdict: components["schemas"]["verdict"];
      held: components["schemas"]["held"];
      cleared?: number;
    };
    undo: {
      by?: string;
      answers?: {
        [key: string]: string;
      };
    };
    undone: {
      text: string;
    };
    new_job: {
      /** @enum {unknown} */
      kind: "answer" | "weigh" | "six" | "ride" | "stop" | "life" | "recorded_stops" | "explain";
      bike?: components["schemas"]["id"];
      /** @description weigh: the second set-up; left out: the same bike with changes */
      other?: components["schemas"]["id"];
      /** @description weigh: keys of the description with what the second set-up has instead */
      changes?: {
        [key: string]: number | string | boolean;
      };
      rides?: components["schemas"]["id"][];
      /** @description recorded_stops: a recorded ride of this bike */
      ride?: components["schemas"]["id"];
      six?: components["schemas"]["six"];
      settings?: components["schemas"]["settings"];
      /** @description life: a ride of this bike; what riding it once takes off */
      once?: components["schemas"]["id"];
      /** @description life: the riding to come is nothing but this way */
      plan?: {
        name: string;
        /** @description a way without times, as GPX */
        text: string;
      };
      stop?: components["schemas"]["stop_asked"];
      /** @description stop: stops from a known speed, in the order in which they were made */
      proof?: components["schemas"]["proof_stop"][];
    };
    /** @description what is left out: 25 km/h, dry, level, cold, both brakes and either alone */
    stop_asked: {
      from_mps?: number;
      /** @enum {unknown} */
      surface?: "dry" | "wet" | "gravel" | "loose";
      /** @description negative: downhill */
      grade?: number;
      pads_at_degC?: number;
      /** @enum {unknown} */
      brakes?: "both" | "front" | "rear";
      /** @description how far the rider's body goes back for these stops */
      weight_back_m?: number;
      /** @description how far it goes down */
      weight_low_m?: number;
    };
    proof_stop: {
      date?: components["schemas"]["day"];
      /** @enum {unknown} */
      wheel: "both" | "front" | "rear";
      from_mps: number;
      /** @description from the first movement of the lever */
      distance_m: number;
      time_s?: number | null;
      lever_force_N?: number | null;
      /** @enum {unknown} */
      surface?: "dry" | "wet" | "gravel" | "loose";
      grade?: number;
    };
    proof_entry: {
      /** @description a UUID that the page made: sent twice it is stored once */
      entry_id: string;
      by: string;
      date?: components["schemas"]["day"];
      /** @enum {unknown} */
      wheel: "front" | "rear";
      from_mps: number;
      /** @description from the first movement of the lever */
      distance_m: number;
      time_s?: number | null;
      lever_force_N?: number | null;
      /** @description the marked place at which the scale pulls, from the lever's tip */
      lever_place_mm?: number | null;
      /** @enum {unknown} */
      surface?: "dry" | "wet" | "gravel" | "loose";
      grade?: number;
      /** @enum {unknown} */
      way?: "taped" | "paced" | "timed" | "recorded";
      note?: string;
      answers?: {
        [key: string]: string;
      };
    };
    /** @description halts of a ride from 3 m/s or more; a distance only where a stop can stand as a proof stop and nothing holds the bike back */
    recorded_stops: {
      ride: components["schemas"]["id"];
      file: string;
      /** @description by the recording's clock, UTC; null: it states none */
      day: components["schemas"]["day"] | null;
      /** @description as the ride's tag says */
      surface: ("dry" | "wet" | "gravel" | "loose") | null;
      do_not_ride: boolean;
      stops: ({
          number: number;
          /** @description since the ride began */
          start_s: number;
          /** @description of the first stop of its trial by the recording's clock, UTC; six hours without a stop end a trial */
          day: components["schemas"]["day"] | null;
          from_mps: number;
          from_sd_mps: components["schemas"]["number_or_null"];
          distance_m: components["schemas"]["number_or_null"];
          distance_sd_m: components["schemas"]["number_or_null"];
          grade: components["schemas"]["number_or_null"];
          grade_sd: components["schemas"]["number_or_null"];
          usable: boolean;
          why_not: string;
          /** @description as a proof stop of these papers */
          kept: ({
            id: components["schemas"]["id"];
            /** @enum {unknown} */
            wheel: "both" | "front" | "rear";
            lever_force_N: components["schemas"]["number_or_null"];
            /** @enum {unknown} */
            surface: "dry" | "wet" | "gravel" | "loose";
            day: components["schemas"]["day"];
          }) | null;
        })[];
    };
    /** @description no recording says brake, squeeze or surface; a stop is known by its speed and way, so sent twice it is stored once */
    recorded_entry: {
      by: string;
      ride: components["schemas"]["id"];
      /** @enum {unknown} */
      wheel: "front" | "rear";
      /**
       * @description of all of them that have none of their own
       * @enum {unknown}
       */
      surface: "dry" | "wet" | "gravel" | "loose";
      /** @description left out: that of each stop, as the list has it */
      day?: components["schemas"]["day"];
      stops: ({
          number: number;
          lever_force_N?: number | null;
          surface?: ("dry" | "wet" | "gravel" | "loose") | null;
        })[];
      /** @description the marked place at which the scale pulled, from the lever's tip */
      lever_place_mm?: number | null;
      note?: string;
      answers?: {
        [key: string]: string;
      };
    };
    recorded_kept: {
      added: number;
      there_already: number;
      recorded: components["schemas"]["recorded_stops"];
    };
    /** @description null: no stop of this brake alone; stops: since the day of the change that began its history; alarm: they hold the bike back */
    proof_of_brake: ({
      stops: number;
      since: string | null;
      alarm: boolean;
      text: string;
    }) | null;
    proof_page: {
      stops: ({
          id: components["schemas"]["id"];
          date: components["schemas"]["day"];
          /** @enum {unknown} */
          wheel: "both" | "front" | "rear";
          from_mps: number;
          distance_m: number;
          time_s: number | null;
          lever_force_N: number | null;
          lever_place_mm: number | null;
          /** @enum {unknown} */
          surface: "dry" | "wet" | "gravel" | "loose";
          grade: number;
          way: ("taped" | "paced" | "timed" | "recorded") | null;
          person: string;
          note: string;
          /** @description who said that it counts for nothing */
          cleared_by: string | null;
        })[];
      brakes: {
        front: components["schemas"]["proof_of_brake"];
        rear: components["schemas"]["proof_of_brake"];
      };
      verdict: components["schemas"]["verdict"];
      cautions: string[];
    };
    /** @description the part that comes first: what was to be said of it when it went on and after each reading, with what was known by then */
    life_narrowed: {
      of: string;
      list: ({
          as_of_ride: number;
          day: string | null;
          readings: number;
          thickness_mm: components["schemas"]["interval"];
          /** @description from new to the limit: ridden by then, and to come */
          life_km: components["schemas"]["interval"];
        })[];
    };
    life_report: components["schemas"]["life_told"] & ({
      narrowed: components["schemas"]["life_narrowed"] | null;
    });
    /** @description of kind answer and six: answer/1; weigh: weigh/1; stop: stop/1; life: life/1 with how it narrowed; explain: the figures that explain, of invented bikes and riders; ride: the ride, whose series is there from now on; recorded_stops: the halts of a ride */
    job_result: components["schemas"]["answer"] | components["schemas"]["weigh"] | components["schemas"]["stop_report"] | components["schemas"]["life_report"] | components["schemas"]["explain"] | components["schemas"]["ride_page"] | components["schemas"]["recorded_stops"] | null;
    job: {
      id: components["schemas"]["id"];
      /** @enum {unknown} */
      state: "waiting" | "running" | "done" | "failed" | "cancelled";
      share: components["schemas"]["share"];
      text: string;
      /** @enum {unknown} */
      kind?: "answer" | "weigh" | "six" | "ride" | "stop" | "life" | "recorded_stops" | "explain";
      result?: components["schemas"]["job_result"];
      error?: {
        code: string;
        text: string;
        file?: string;
        line?: number;
      } | null;
    };
    pair: {
      code: string;
    };
    /** @description 5, 50 and 95 % points */
    interval: {
      p05: number;
      p50: number;
      p95: number;
    };
    interval_or_null: components["schemas"]["interval"] | null;
    number_or_null: number | null;
    share: number;
    share_or_null: components["schemas"]["share"] | null;
    day_or_null: string | null;
    /** @enum {unknown} */
    grade: "measured" | "published" | "published_from_memory" | "common_practice" | "assumed";
    reason: {
      code: string;
      text: string;
    };
    /** @description all null where the ride's heat is withheld; core_ null but for a rotor with an aluminium core; water null but for rides told as damp, wet or gritty or on a wet surface; outside_measured_share: of the braking energy, with pads hotter than friction was measured, above_measured_power_share: at more power */
    wheel: {
      brake_energy_J: components["schemas"]["interval_or_null"];
      rotor_peak_degC: components["schemas"]["interval_or_null"];
      rotor_hottest_ring_degC: components["schemas"]["interval_or_null"];
      /** @description hottest ring where it leaves the pad, the others are means over a turn; null for a rotor with an aluminium core */
      rotor_under_pad_peak_degC?: components["schemas"]["interval_or_null"];
      pad_face_peak_degC: components["schemas"]["interval_or_null"];
      fluid_peak_degC: components["schemas"]["interval_or_null"];
      fluid_peak_at_s: components["schemas"]["interval_or_null"];
      fluid_boil_probability: components["schemas"]["share"] | null;
      fluid_point_degC?: components["schemas"]["interval_or_null"];
      fade_probability: components["schemas"]["share_or_null"];
      hot_stop_beyond_hand_probability?: components["schemas"]["share_or_null"];
      lever_force_factor: components["schemas"]["interval_or_null"];
      /** @description lever force of the hardest ten seconds of braking, mean over them, with heat and water */
      hold_lever_force_N?: components["schemas"]["interval_or_null"];
      /** @description the same braking with this brake cold and dry */
      hold_lever_force_cold_N?: components["schemas"]["interval_or_null"];
      /** @description in those ten seconds more than 400 W at this wheel, or a pad above 277 degC: outside what was measured of friction */
      hold_outside_measured_probability?: components["schemas"]["share_or_null"];
      outside_measured_share?: components["schemas"]["share_or_null"];
      above_measured_power_share?: components["schemas"]["share_or_null"];
      core_peak_degC?: components["schemas"]["interval_or_null"];
      core_soft_probability?: components["schemas"]["share_or_null"];
      core_melt_probability?: components["schemas"]["share_or_null"];
      gap_taken_mm?: components["schemas"]["number_or_null"];
      /** @description least_friction: under water over dry, while braking; lever_force_factor: largest squeeze while wet over that cold and dry, heat included; wet_work_share: of the braking energy, with friction over 5 % under dry; drying_J: heat taken from the rotor; turns_to_dry, metres_to_dry: from soaked to within 5 % of dry, lightly braked, once no more water comes */
      water?: null | {
        least_friction: components["schemas"]["interval"];
        lever_force_factor: components["schemas"]["interval"];
        wet_work_share: components["schemas"]["share"];
        drying_J: components["schemas"]["interval"];
        turns_to_dry: components["schemas"]["interval"];
        metres_to_dry: components["schemas"]["interval"];
      };
    };
    /** @description brake energy: mean over the likely cases (means add up) and interval (intervals do not); what else stands in it are numbers */
    took: {
      energy_J: components["schemas"]["interval"];
      mean_J: number;
      [key: string]: number;
    };
    effort_or_null: null | {
      over_s: number;
      start_s: number;
      /** @description the middle of it */
      distance_m: number;
      gradient: number;
      speed_mps: number;
      power_W: components["schemas"]["interval"];
      energy_J: components["schemas"]["interval"];
    };
    did: null | {
      /** @description five minutes each, start_s and end_s */
      windows: components["schemas"]["took"][];
      bends_found: {
        count: number;
        mean_J: number;
      };
      /** @description the ten that took most, most first; turn_deg left positive; energy from approach_m to end_m */
      bends: components["schemas"]["took"][];
      stops: components["schemas"]["took"][];
      /** @description from_m and to_m of metres descended */
      descent_100m: components["schemas"]["took"][];
      descent_rest: components["schemas"]["took"];
      hardest: {
        over_10s: components["schemas"]["effort_or_null"];
        over_60s: components["schemas"]["effort_or_null"];
      };
    };
    life_end: null | ({
      pad: null | {
        remaining_km: components["schemas"]["interval"];
        remaining_rides: components["schemas"]["interval"];
        remaining_descent_m: components["schemas"]["interval_or_null"];
        look_by: components["schemas"]["day_or_null"];
        look_by_km?: number;
        look_by_rides?: number;
        capped?: boolean;
        limit?: string;
      };
      rotor: null | {
        remaining_km: components["schemas"]["interval"];
        pad_sets: components["schemas"]["interval_or_null"];
        look_by?: components["schemas"]["day_or_null"];
        look_by_km?: number;
        look_by_rides?: number;
        capped?: boolean;
        limit?: string;
      };
    });
    fault: {
      /** @enum {unknown} */
      kind: "gap_moving" | "pause" | "clock_jump" | "duplicate_time" | "altitude_spike" | "speed_spike" | "position_jump" | "no_altitude" | "no_time" | "no_position" | "truncated" | "bad_checksum" | "vehicle" | "other";
      count: number;
      seconds: number;
      text: string;
    };
    yardstick: {
      id: string;
      text: string;
      need: components["schemas"]["number_or_null"];
      have: components["schemas"]["interval_or_null"];
      remark?: string;
      /** @description of the cases of which it is asked; null: of none */
      met_share: components["schemas"]["share_or_null"];
      unit: string;
      grade: components["schemas"]["grade"];
      source: string;
    };
    assumption: {
      key: string;
      value: number | string | null;
      sd: components["schemas"]["number_or_null"];
      unit: string;
      grade: components["schemas"]["grade"];
      source: string;
    };
    measurement_or_null: null | {
      what: string;
      minutes: number;
      text: string;
    };
    ride: {
      file: string;
      start_time: string | null;
      /** @description nobody rode it: a planned route, or a typical descent of the six questions */
      planned: boolean;
      /** @description of a planned route */
      style?: ("dragging" | "short_hard") | null;
      /** @description ridden, but told in figures only: no track */
      described?: boolean;
      duration_s: components["schemas"]["number_or_null"];
      distance_m: number;
      ascent_m: components["schemas"]["number_or_null"];
      descent_m: components["schemas"]["number_or_null"];
      /** @enum {unknown} */
      altitude_source: "barometric" | "satellite" | "terrain" | "none";
      /** @description null: described, the rider's work is not known; or heat withheld */
      account_J: {
        [key: string]: number;
      } | null;
      /** @description a recorded ride with altitude: drag area and rolling resistance as it leaves them, over 64 cases, and their spread (sd of the logarithm) over that before it; null where nothing was open */
      narrowed: {
        drag_area_m2: components["schemas"]["interval"];
        rolling_resistance: components["schemas"]["interval"];
        drag_area_spread: components["schemas"]["number_or_null"];
        rolling_resistance_spread: components["schemas"]["number_or_null"];
      } | null;
      brake_energy_J: components["schemas"]["interval_or_null"];
      /** @description where the brakes' energy went, means: into the rotors, by skids into the rear tyre and the road, into the battery, into a trailer's own brake */
      braking_J: {
        [key: string]: number;
      } | null;
      did: components["schemas"]["did"];
      applications: {
        /** @description list + rest_J = account_J.brakes; the list holds the mean power above 20 W alone, so the rest is often negative */
        rest_J: number;
        count: number;
        time_s: number;
        list: {
            [key: string]: number;
          }[];
      } | null;
      /** @description why energies and temperatures of this ride are null */
      heat_withheld?: string | null;
      /** @description the date cannot be right or lies years from the others: no look-by date rests on it */
      date_left_aside?: boolean;
      wheels: {
        front: components["schemas"]["wheel"];
        rear: components["schemas"]["wheel"];
      };
      faults: components["schemas"]["fault"][];
    };
    stop: {
      /** @enum {unknown} */
      brakes: "both" | "front" | "rear";
      /** @enum {unknown} */
      surface: "dry" | "wet" | "gravel" | "loose";
      from_mps: number;
      grade: number;
      brake_distance_m: components["schemas"]["interval_or_null"];
      room_needed_m: components["schemas"]["interval_or_null"];
      deceleration_mps2: components["schemas"]["interval"];
      lever_force_N: components["schemas"]["interval"];
      hand_force_N?: components["schemas"]["interval"];
      cold_hand_force_N?: components["schemas"]["interval"];
      standard_force_N?: number;
      not_stopping_share?: components["schemas"]["share"] | null;
      weak_share?: components["schemas"]["share"];
      bar_share?: components["schemas"]["share"];
      /** @enum {unknown} */
      limited_by: "lever_force" | "front_grip" | "rear_grip" | "rear_lift" | "fade" | "skill" | "lever_travel" | "does_not_stop";
    };
    answer_verdict: {
      do_not_ride: boolean;
      /** @enum {unknown} */
      state: "no_reason_found" | "look_by" | "replace" | "held_back" | "measure_better";
      text?: string;
      reasons: components["schemas"]["reason"][];
      notes?: components["schemas"]["reason"][];
      checks_done: number;
      checks_total: number;
    };
    life: {
      front: components["schemas"]["life_end"];
      rear: components["schemas"]["life_end"];
    };
    /**
     * answer/1
     * @description What `brakewright answer --json` prints. SI units, in the names; null = not known or not given. Keys may be added, never renamed.
     */
    answer: {
      /** @constant */
      schema: "answer/1";
      version: string;
      seed: number;
      cases: number;
      today?: components["schemas"]["day_or_null"];
      bike: {
        name: string;
        /** @enum {unknown} */
        kind: "trail" | "gravel" | "road" | "city" | "cargo";
        total_mass_kg: number;
        trailer_kg?: components["schemas"]["number_or_null"];
      };
      verdict: components["schemas"]["answer_verdict"];
      rides: components["schemas"]["ride"][];
      life: components["schemas"]["life"];
      stops: components["schemas"]["stop"][];
      levers?: Record<string, never>;
      life_withheld?: string | null;
      /** @description From the papers: the object life/1 (life-1.json), by which life is given. Null on files. */
      learned?: Record<string, never> | null;
      /** @description From the papers: what temperatures that were read did to the bands, or why they weigh nothing; a sentence each. Empty on files. */
      read_temperatures?: string[];
      /** @description From the papers: the front share that pads and rotors tell, by which likely cases count. Null: all count alike. */
      front_share?: null | {
        now: components["schemas"]["interval"];
        before: components["schemas"]["interval"];
        /** @description of the cases by weight */
        of_cases: components["schemas"]["interval"];
        effective_anchors: number;
        effective_cases: number;
        /** @description false: too few cases are like what was learned, and the weights go only part of the way */
        whole: boolean;
        text: string;
      };
      yardsticks?: components["schemas"]["yardstick"][];
      assumed: components["schemas"]["assumption"][];
      measure_next: components["schemas"]["measurement_or_null"];
      cautions: string[];
    };
    side: {
      name: string;
      /** @enum {unknown} */
      kind: "trail" | "gravel" | "road" | "city" | "cargo";
      total_mass_kg: number;
      verdict: {
        do_not_ride: boolean;
        /** @enum {unknown} */
        state: "no_reason_found" | "look_by" | "replace" | "held_back" | "measure_better";
        text: string;
        reasons: components["schemas"]["reason"][];
        notes: components["schemas"]["reason"][];
        checks_done: number;
        checks_total: number;
      };
    };
    weigh_figure: {
      /** @description names the figure: stop.both.dry.brake_distance_m, heat.front.rotor_peak_degC, life.rear.pad.remaining_km, lever.front.bite_mm */
      key: string;
      /** @enum {unknown} */
      about: "stop" | "heat" | "life" | "lever";
      wheel: ("front" | "rear") | null;
      /** @description place in rides */
      ride: number | null;
      text: string;
      unit: string;
      /**
       * @description which way is better for the brake
       * @enum {unknown}
       */
      wanted: "less" | "more";
      a: components["schemas"]["interval_or_null"];
      b: components["schemas"]["interval_or_null"];
      /** @description b - a, case by case, in `unit`; null: withheld, or one of the two has no number in more than 5 % of the cases */
      difference: components["schemas"]["interval_or_null"];
      b_larger_share: components["schemas"]["share_or_null"];
      b_smaller_share: components["schemas"]["share_or_null"];
    };
    weigh_changed: {
      key: string;
      unit: string;
      a: number | string | boolean | null;
      b: number | string | boolean | null;
      a_sd?: components["schemas"]["number_or_null"];
      b_sd?: components["schemas"]["number_or_null"];
    };
    weigh_share: {
      key: string;
      /** @enum {unknown} */
      about: "stop" | "heat" | "yardstick";
      wheel: ("front" | "rear") | null;
      ride: number | null;
      text: string;
      /** @enum {unknown} */
      wanted: "less" | "more";
      a: components["schemas"]["share_or_null"];
      b: components["schemas"]["share_or_null"];
      /** @description cases in which it is so with a and not with b */
      only_a: components["schemas"]["share_or_null"];
      only_b: components["schemas"]["share_or_null"];
      grade?: components["schemas"]["grade"];
      source?: string;
    };
    /**
     * weigh/1
     * @description What `brakewright weigh --json` prints: two set-ups on the same likely cases and the same rides. SI units, in the names; null = not known or not given. A difference is b - a in each case. Keys may be added, never renamed.
     */
    weigh: {
      /** @constant */
      schema: "weigh/1";
      version: string;
      seed: number;
      cases: number;
      /** @description why there are no differences: a side is held back; it comes first on every page */
      withheld: string | null;
      a: components["schemas"]["side"];
      b: components["schemas"]["side"];
      /** @description what differs between the two descriptions; empty: nothing */
      changed: components["schemas"]["weigh_changed"][];
      figures: components["schemas"]["weigh_figure"][];
      /** @description how many of the likely cases: boiling, fading, not stopping, yardsticks met */
      shares: components["schemas"]["weigh_share"][];
      rides?: ({
          file: string;
          distance_m: number;
          descent_m: number;
          heat_withheld: string | null;
        })[];
      /** @description what both or one rest on without being told */
      assumed: ({
          key: string;
          value: number | string | null;
          sd: components["schemas"]["number_or_null"];
          unit: string;
          grade: components["schemas"]["grade"];
          source: string;
        })[];
      cautions: string[];
    };
    /** @description 5, 50 and 95 % points; null: no figure there */
    points: {
      p05: number | null;
      p50: number | null;
      p95: number | null;
    };
    points_or_null: components["schemas"]["points"] | null;
    lever_of_wheel: {
      bite_mm: components["schemas"]["points"];
      full_mm: components["schemas"]["points"];
      window_mm: (number | null)[];
      in_window: boolean;
      in_window_share?: number;
      travel_per_pad_mm_mm: number | null;
      force_03g_N: components["schemas"]["points"];
      force_lock_N: components["schemas"]["points"];
    };
    gain_of_wheel: {
      p05: number | null;
      p50: number | null;
      p95: number | null;
      expected: components["schemas"]["points"];
      alarm: boolean;
      stops?: number;
      history_stops?: number;
      left_out?: number;
      text: string;
      measured: boolean;
      at_mps2: number;
      change: OneOf<[{
        p05: number | null;
        p50: number | null;
        p95: number | null;
      }, null]>;
      trend: OneOf<[{
        p05: number | null;
        p50: number | null;
        p95: number | null;
      }, null]>;
      /** @description what the stops measured as a machine test would write it down, brought in proportion to the standard's lever force; null: not measured, or held back */
      at_standard?: OneOf<[null, {
        recorded_N: number;
        lever_force_N: number;
        corrected_N: components["schemas"]["points"];
      }]>;
    };
    yardstick_told: {
      have: components["schemas"]["points_or_null"];
      met: boolean | null;
      /** @enum {unknown} */
      grade: "measured" | "published" | "published_from_memory" | "common_practice" | "assumed";
      id: string;
      text?: string;
      unit?: string;
      source: string;
      remark: string;
      need: number | null;
      /** @description of the cases of which it is asked; null: of none */
      met_share?: number | null;
      at_most?: boolean;
    };
    stop_told: {
      /** @enum {unknown} */
      brakes: "both" | "front" | "rear";
      /** @enum {unknown} */
      surface: "dry" | "wet" | "gravel" | "loose";
      brake_distance_m: components["schemas"]["points_or_null"];
      room_needed_m: components["schemas"]["points_or_null"];
      deceleration_mps2: components["schemas"]["points_or_null"];
      expert_deceleration_mps2: components["schemas"]["points_or_null"];
      lever_force_N: components["schemas"]["points"];
      /** @enum {unknown} */
      limited_by: "lever_force" | "front_grip" | "rear_grip" | "rear_lift" | "fade" | "skill" | "lever_travel" | "does_not_stop";
      not_stopping_share?: number | null;
      from_mps: number;
      grade: number;
      hand_force_N?: components["schemas"]["points"];
      cold_hand_force_N?: components["schemas"]["points"];
      standard_force_N?: number;
      weak_share?: number;
      bar_share?: number;
      /** @description room of a rider who uses all that road and brake allow, with this reaction */
      expert_room_m?: components["schemas"]["points_or_null"];
    };
    chain_stage: {
      /** @enum {unknown} */
      wheel: "front" | "rear";
      stage: string;
      loss: number;
      in: number;
      in_unit: string;
      out: number;
      out_unit: string;
    };
    /**
     * stop/1
     * @description Will it stop: SI, gains in m/s2 per N at the lever.
     */
    stop_report: {
      /** @enum {unknown} */
      schema: "stop/1";
      version: string;
      seed: number;
      cases: number;
      asked: {
        from_mps: number;
        surface: string;
        grip: number | null;
        grade: number;
        pads_at_degC: number | null;
        room_m?: number;
        terrain?: string;
        terrain_told?: boolean;
        gritty?: boolean;
        weight_back_m?: number;
        weight_low_m?: number;
      };
      verdict: {
        do_not_ride: boolean;
        /** @enum {unknown} */
        state: "no_reason_found" | "look_by" | "replace" | "held_back" | "measure_better";
        reasons: {
            code: string;
            text: string;
          }[];
        text: string;
        checks_done: number;
        checks_total: number;
      };
      stops: components["schemas"]["stop_told"][];
      gain: {
        front: components["schemas"]["gain_of_wheel"] | null;
        rear: components["schemas"]["gain_of_wheel"] | null;
      };
      weighed_by_proof?: boolean;
      effective_cases?: number | null;
      lever: {
        front: components["schemas"]["lever_of_wheel"] | null;
        rear: components["schemas"]["lever_of_wheel"] | null;
      };
      chain: components["schemas"]["chain_stage"][];
      yardsticks: components["schemas"]["yardstick_told"][];
      cautions: string[];
      /** @description Every dry or wet proof stop told, in the order told. */
      proof: ({
          /** @enum {unknown} */
          wheel: "front" | "rear";
          date: string;
          stop: string;
          braking_mps2: number | null;
          gain: number | null;
          used: boolean;
          /** @description v2/(2 s) over the whole way */
          mean_deceleration_mps2?: number | null;
          /** @description way brought to 25 km/h as ISO 4210-4 does (from memory); null unless told from within 1.5 km/h of it */
          at_25_kmh_m?: number | null;
        })[];
      /** @description Fewer than 200 likely cases count after weighing by the proof stops: friction was brought to what they measured. */
      scaled_by_proof: boolean;
      feel: {
        front: components["schemas"]["feel_of_wheel"];
        rear: components["schemas"]["feel_of_wheel"];
      };
      hold_speed: OneOf<[{
        lever_force_N: components["schemas"]["points"];
        held_force_N: components["schemas"]["points"];
        hand_share: components["schemas"]["points"];
        minutes: components["schemas"]["points"];
        hour_share: number;
      }, null]>;
      /** @description Fastest from which 95 % of the cases stop: within asked.room_m; at all, with a brake that warms (25 m/s: at least that). */
      top_speed: ({
          /** @enum {unknown} */
          brakes: "both" | "front" | "rear";
          within_room_mps: number | null;
          at_all_mps: number | null;
          /** @enum {unknown} */
          limited_by: "heat" | "fade" | "does_not_stop" | "none";
        })[];
      bedding: {
        front: components["schemas"]["bedding_of_wheel"] | null;
        rear: components["schemas"]["bedding_of_wheel"] | null;
      };
      hysteresis: {
        front: {
          rising_N: number;
          release_N: number;
          /** @description lever to bar at half of rising_N on the way in */
          half_way_in_mm?: number | null;
          /** @description the same on the way back from rising_N */
          half_way_back_mm?: number | null;
        };
        rear: {
          rising_N: number;
          release_N: number;
          /** @description lever to bar at half of rising_N on the way in */
          half_way_in_mm?: number | null;
          /** @description the same on the way back from rising_N */
          half_way_back_mm?: number | null;
        };
      };
      bike: {
        name: string;
        kind: string;
        total_mass_kg: number;
      };
      balance: components["schemas"]["balance"] | null;
      /** @description halts of the recording named by --from-ride; null without one */
      recorded?: OneOf<[null, {
        file: string;
        stops: ({
            start_s: number;
            end_s?: number;
            from_mps: number;
            from_sd_mps?: number | null;
            distance_m: number | null;
            distance_sd_m?: number | null;
            shared_sd_m?: number | null;
            usable: boolean;
            why_not: string;
          })[];
      }]>;
      /** @description From the papers: the front share that pads and rotors tell. Null: none is told, or what it was learned from no longer stands (then `cautions` says so). */
      front_share?: null | ({
        now: components["schemas"]["points"];
        before: components["schemas"]["points"];
        of_cases: components["schemas"]["points"];
        /** @description likely cases that count for stops, with the proof stops; null: stops are not weighed by it */
        effective_cases: number | null;
        /** @description false: too few cases are like what was learned, and the weights go only part of the way */
        whole: boolean;
        /** @description false: proof stops leave too few such cases; only levers are judged with and without */
        stops_too: boolean;
        /** @description of the forecast that it is from */
        day: string | null;
        text: string;
      });
    };
    life_part: {
      /** @enum {unknown} */
      component?: "front_left_pad" | "front_right_pad" | "front_rotor" | "rear_left_pad" | "rear_right_pad" | "rear_rotor";
      set: string;
      compound?: string | null;
      limit_mm: number;
      readings: number;
      thickness_mm: components["schemas"]["interval"];
      limit_reached_probability: number;
      limit_ride: OneOf<[{
        p005: number;
        p05: number;
        p25: number;
        p50: number;
        p75: number;
        p95: number;
      }, null]>;
      remaining_rides: components["schemas"]["interval_or_null"];
      remaining_km: components["schemas"]["interval_or_null"];
      remaining_descent_m?: components["schemas"]["interval_or_null"];
      remaining_h?: components["schemas"]["interval_or_null"];
      look_by: OneOf<[{
        rides: number;
        km: number;
        date: string | null;
      }, null]>;
      moves: {
        thickness_now?: number;
        wear_rate?: number;
        riding_to_come?: number;
      };
      narrows_to_share: number;
      capped_share?: number;
      limit_stated?: boolean;
      name?: string;
      new_mm?: number;
      buy_by?: string | null;
      /** @description When its successor should be there, in words; null: no day is known, or the bike is held back. */
      buy_text?: string | null;
      plan_loss_mm?: components["schemas"]["interval_or_null"];
    };
    /**
     * life/1
     * @description What is left of pads and rotors. Lengths mm, distances km, descent m, h hours; ride numbers are absolute.
     */
    life_told: {
      /** @enum {unknown} */
      schema: "life/1";
      version: string;
      seed: number;
      as_of_ride?: number;
      verdict?: {
        do_not_ride: boolean;
        /** @enum {unknown} */
        state: "look_by" | "measure_better" | "replace" | "held_back";
        reasons: string[];
      };
      parts?: components["schemas"]["life_part"][];
      first_due?: ("front_left_pad" | "front_right_pad" | "front_rotor" | "rear_left_pad" | "rear_right_pad" | "rear_rotor") | null;
      /** @description Parts that nobody measured and that are at their limit already by a chance over 5 %; first_due is then of the others, and these are measured first. Empty: none, all are such, or the bike is held back. */
      unread?: ("front_left_pad" | "front_right_pad" | "front_rotor" | "rear_left_pad" | "rear_right_pad" | "rear_rotor")[];
      measure_next?: ({
        /** @enum {unknown} */
        component?: "front_left_pad" | "front_right_pad" | "front_rotor" | "rear_left_pad" | "rear_right_pad" | "rear_rotor";
        minutes?: number;
        narrows_to_share?: number;
        text?: string;
      }) | null;
      questions?: string[];
      /** @description Pads whose newest reading holds a layer that heat has swollen: taken as thinner than they read. Said in questions too. */
      swollen?: string[];
      /** @description How often it is taken as ridden for dates; null: no dates are known. text: up to how many rides a week the look-by days given hold, as long as few rides are known; null where no such day is given. */
      riding?: OneOf<[null, {
        rides_per_week: number;
        assumed: boolean;
        text: string | null;
      }]>;
      cautions?: string[];
      forecasts?: ({
          /** @enum {unknown} */
          component: "front_left_pad" | "front_right_pad" | "front_rotor" | "rear_left_pad" | "rear_right_pad" | "rear_rotor";
          set: string;
          as_of_ride: number;
          limit_ride: {
            p005: number;
            p05: number;
            p25: number;
            p50: number;
            p75: number;
            p95: number;
          };
          limit_reached_probability: number;
        })[];
      /** @description The first of the two pads of a wheel to come to its limit. */
      pads?: {
        front: components["schemas"]["life_part"] | null;
        rear: components["schemas"]["life_part"] | null;
      };
      /** @description Best first: width of the life that ends first after that reading, over its width now. */
      readings_that_could_be?: ({
          /** @enum {unknown} */
          component: "front_left_pad" | "front_right_pad" | "front_rotor" | "rear_left_pad" | "rear_right_pad" | "rear_rotor";
          minutes: number;
          narrows_to_share: number;
        })[];
      movers?: {
        /** @enum {unknown} */
        of: "front_left_pad" | "front_right_pad" | "front_rotor" | "rear_left_pad" | "rear_right_pad" | "rear_rotor";
        text: string;
        list: {
            key: string;
            words: string;
            share: number;
          }[];
      };
      front_share?: OneOf<[null, {
        now: components["schemas"]["interval"];
        before: components["schemas"]["interval"];
        text: string;
      }]>;
      left_right?: {
        front: OneOf<[null, {
          left_share: components["schemas"]["interval"];
          text: string;
        }]>;
        rear: OneOf<[null, {
          left_share: components["schemas"]["interval"];
          text: string;
        }]>;
      };
      plan?: string | null;
      score?: OneOf<[null, {
        judged: number;
        held: number;
        too_early: number;
        text: string;
        misses: {
            part: string;
            day: string;
            said_p05_km: number;
            said_p95_km: number;
            was_km: number;
          }[];
      }]>;
      life_withheld?: string | null;
    };
    feel_of_wheel: {
      strongest_mm: components["schemas"]["points"];
      strongest_N: components["schemas"]["points"];
      at_bite_N: components["schemas"]["points"];
      place: ("in_window" | "too_far_out" | "too_near" | "no_window") | null;
      adjustments: {
          what: string;
          text: string;
        }[];
      knocked_back_mm: components["schemas"]["points"];
      gap_mm: number | null;
      warming_that_takes_gap_dK: components["schemas"]["points_or_null"];
      follows_wear: boolean;
      mm_per_km: components["schemas"]["points_or_null"];
      km_in_window: components["schemas"]["points_or_null"];
      km_to_bar: components["schemas"]["points_or_null"];
      km_per_turn: components["schemas"]["points_or_null"];
      ride_km: number | null;
      /** @description lever travel that the pads' gap takes each time */
      gap_travel_mm?: components["schemas"]["points_or_null"];
      /** @description lever travel for each mm of total run-out */
      run_out_mm_mm?: components["schemas"]["points_or_null"];
      /** @description wet surface: friction of the soaked brake over dry */
      first_wet_bite?: components["schemas"]["points_or_null"];
      turns_to_dry?: components["schemas"]["points_or_null"];
      metres_to_dry?: components["schemas"]["points_or_null"];
      /** @description lever force for 0.3 g with this brake alone, and at lock or lift */
      control?: {
        dry: OneOf<[null, {
          force_03g_N: components["schemas"]["points"];
          force_lock_N: components["schemas"]["points"];
        }]>;
        wet: OneOf<[null, {
          force_03g_N: components["schemas"]["points"];
          force_lock_N: components["schemas"]["points"];
        }]>;
      };
      /** @description wear by this bike's own rides and readings, not by the terrain */
      by_own_rides?: boolean;
    };
    bedding_of_wheel: {
      from_mps: number;
      to_mps: number;
      rest_s: number;
      window_degC: number[];
      stops_to_window: components["schemas"]["points_or_null"];
      reached: boolean;
      stays_under: boolean;
      last_peak_degC: components["schemas"]["points"];
      most_stops: number;
      /** @description that the intervals rest on, drawn by weight: 5 and 95 % are rough */
      cases: number;
    };
    /** @description forces at the tyres */
    tyres: {
      front_N: number;
      rear_N: number;
      deceleration_mps2: number;
    };
    /** @description front against rear: limits of road, brake and hand, without the cap of skill */
    balance: {
      /** @description square to the road, on the bike's wheels */
      weight_N: number;
      /** @description both tyres use the same part of their grip, from nought to rear lift; middle case */
      best: components["schemas"]["tyres"][];
      /** @description both levers pulled alike, from nought to where that ends; middle case */
      alike: {
          lever_force_N: number;
          front_N: number;
          rear_N: number;
          deceleration_mps2: number;
        }[];
      /**
       * @description middle case
       * @enum {unknown}
       */
      alike_ends_by: "front_grip" | "rear_grip" | "rear_lift" | "lever_force";
      /** @description share of the cases */
      alike_ends_share: {
        front_grip: number;
        rear_grip: number;
        rear_lift: number;
        lever_force: number;
      };
      /** @description two points of a straight line; null: the rear lifts first, whatever the rear brake does */
      front_locks: components["schemas"]["tyres"][] | null;
      rear_skids: components["schemas"]["tyres"][];
      /** @description sum of both tyres' forces at which the rear wheel lifts */
      rear_lifts_N: number;
      grip: components["schemas"]["points"];
      best_mps2: components["schemas"]["points"];
      front_alone_mps2: components["schemas"]["points"];
      rear_alone_mps2: components["schemas"]["points"];
      rear_lift_mps2: components["schemas"]["points"];
      alike_mps2: components["schemas"]["points"];
      alike_lever_force_N: components["schemas"]["points"];
    };
    explain_figure: {
      /** @enum {unknown} */
      of: "heat" | "life" | "stop";
      name: string;
      title: string;
      caption: string;
      /** @description likely cases behind its intervals; null: its own sample (docs/models/life.md) */
      cases: number | null;
      assumptions: string[];
      sources: {
          text: string;
          grade: components["schemas"]["grade"];
        }[];
      /** @description each with the share of the likely cases in which it holds */
      claims: {
          text: string;
          holds_share: components["schemas"]["share"];
        }[];
      /** @description the table of the same name that the command writes (docs/formats.md), by columns; null: not known */
      columns: {
        [key: string]: (number | string | null)[];
      };
      /** @description the set-ups side by side: what each comes to */
      variants: {
          name: string;
          intervals: {
            [key: string]: components["schemas"]["interval"];
          };
          shares: {
            [key: string]: number;
          };
        }[];
    };
    explain: {
      /** @constant */
      schema: "explain/1";
      version: string;
      seed: number;
      figures: components["schemas"]["explain_figure"][];
      cautions: string[];
    };
    turn_pattern: null | {
      per_turn: number;
      probability: number;
      amplitude_mm: components["schemas"]["interval"];
      angle_deg: components["schemas"]["interval"];
    };
    bends: ({
        probability: number;
        angle_deg: components["schemas"]["interval"];
        height_mm: components["schemas"]["interval"];
        width_deg: components["schemas"]["interval"];
        /** @enum {unknown} */
        push: "away_from_dial" | "towards_dial";
        total_after_mm: components["schemas"]["interval"];
      })[];
    /** @description of one wheel: the newest table; why_not alone if it is no turn */
    run_out: {
      day: components["schemas"]["day"];
      reading: components["schemas"]["id"];
      why_not?: string;
      /** @enum {unknown} */
      depth?: "only_seen" | "total" | "parts";
      angles?: number;
      seen_mm?: number;
      total_mm?: components["schemas"]["interval_or_null"];
      total_without_tilt_mm?: components["schemas"]["interval_or_null"];
      noise_mm?: components["schemas"]["interval_or_null"];
      tilt?: components["schemas"]["turn_pattern"];
      saddle?: components["schemas"]["turn_pattern"];
      arms?: components["schemas"]["turn_pattern"];
      bends?: components["schemas"]["bends"];
      perhaps?: components["schemas"]["bends"];
      read?: {
          angle_deg: number;
          dial_mm: number;
        }[];
      shape?: {
          angle_deg: number;
          dial_mm: components["schemas"]["interval"];
        }[];
      /** @description a bend lower than that is left alone */
      worth_mm?: number;
      words?: string[];
    };
  };
  responses: {
    /** @description status from the table of errors */
    error: {
      content: {
        "application/json": components["schemas"]["error"];
      };
    };
  };
  parameters: {
    token: string;
    /** @description Sent by the pages (web/src/service.ts): {asked} and {not_done} come with status 200, since a browser logs every other status as an error. Without it they come with 409, or the status of the table of errors (422; 404 for not_computed), and {error} says the same beside them */
    page?: string;
  };
  requestBodies: never;
  headers: never;
  pathItems: never;
}

export type $defs = Record<string, never>;

export type external = Record<string, never>;

export type operations = Record<string, never>;
