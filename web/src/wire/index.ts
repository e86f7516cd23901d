// SPDX-License-Identifier: Apache-2.0
// Short names for what goes over the wire; all generated from openapi.json.                                Layer: web
import type { Interval } from '../units';
import type { components } from './generated';

type S = components['schemas'];
export type About = S['about'];
export type Stand = S['stand'];
export type StandBike = S['stand_bike'];
export type Bike = S['bike'];
export type Brakes = S['brakes'];
export type WheelBrake = S['brake'];
export type PadSide = S['pad_now'];
export type CheckList = S['check_list'];
export type CheckItem = S['check_item'];
export type Check = S['check'];
export type KeptReading = S['reading'];
export type KeptRide = S['ride_row'];
export type RideAdded = S['ride_added'];
export type ReadingEntry = S['new_reading'];
export type ReadingDone = S['reading_added'];
export type Quantity = S['quantity'];
export type Question = S['question'];
export type RowsAdded = S['rows_added'];
export type Series = S['series'];
export type RidePage = S['ride_page'];
export type NewJob = S['new_job'];
export type Job = S['job'];
export type SixAnswers = S['six'];
export type Settings = S['settings'];
export type Held = S['held'];
export type HeldNow = S['held_now'];

export type Answer = S['answer'];
export type Verdict = Omit<S['verdict'], 'notes' | 'text'> & { notes?: S['reason'][]; text?: string };
export type Ride = S['ride'];
export type Wheel = S['wheel'];
export type Stop = S['stop'];
export type LifeEnd = S['life_end'];
export type Assumed = S['assumption'];
export type State = S['state'];
export type Reason = S['reason'];
export type WheelName = 'front' | 'rear';
export type Levers = Partial<Record<WheelName, { bite_mm: Interval; full_mm: Interval } | null>>;
export type Weigh = S['weigh'];
export type WeighFigure = S['weigh_figure'];
export type WeighShare = S['weigh_share'];
