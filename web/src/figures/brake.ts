// SPDX-License-Identifier: Apache-2.0
// One brake from its own numbers: section through pads and rotor, the rotor's face, the lever's way.      Layer: web, figures
// layout() holds all that can be tested without a screen; draw() only puts it on paper.
import type { PadSide, WheelBrake, WheelName } from '../wire';
import { number_text, unit_of, type Interval, type System } from '../units';
import { edge_gradient, el, fresh_id, sheet_of, type Figure } from './figure';
import { rotor_told } from '../words';
import { lever_assumptions, lever_drawn } from './lever_drawn';

const css_px_per_mm = 96 / 25.4;
const drawn_gap_mm = 0.25;       // common practice for a released brake; the figure says that it is not measured
const unknown_pad_mm = 1.5;      // only so that there is something to point at
const unknown_plate_mm = 1.8;
const unknown_rotor_mm = 1.8;

export type Slab = { what: 'plate' | 'pad' | 'rotor'; side: 'left' | 'right' | 'middle'; x1_mm: number; x2_mm: number; known: boolean };
export type Section = { slabs: Slab[]; width_mm: number; rotor_mm: number };

//! Where each slab lies across the slot, left plate at 0.
export function section(brake: WheelBrake): Section {
  const plate = brake.pads.plate_thickness_mm ?? unknown_plate_mm;
  const left = brake.pads.left.friction_thickness_mm ?? unknown_pad_mm;
  const right = brake.pads.right.friction_thickness_mm ?? unknown_pad_mm;
  const rotor = brake.rotor.thickness_mm ?? unknown_rotor_mm;
  const slabs: Slab[] = [];
  let at = 0;
  const put = (what: Slab['what'], side: Slab['side'], mm: number, known: boolean) => {
    slabs.push({ what, side, x1_mm: at, x2_mm: at + mm, known });
    at += mm;
  };
  put('plate', 'left', plate, brake.pads.plate_measured);
  put('pad', 'left', left, brake.pads.left.friction_thickness_mm !== null);
  at += drawn_gap_mm;
  put('rotor', 'middle', rotor, brake.rotor.thickness_mm !== null);
  at += drawn_gap_mm;
  put('pad', 'right', right, brake.pads.right.friction_thickness_mm !== null);
  put('plate', 'right', plate, brake.pads.plate_measured);
  return { slabs, width_mm: at, rotor_mm: rotor };
}

const pad_words = (p: PadSide, system: System): string =>
  p.friction_thickness_mm === null ? 'never measured' : `${number_text(p.friction_thickness_mm, 'thickness_mm', system)} ${unit_of('thickness_mm', system)}${p.sd_mm ? ` ± ${number_text(2 * p.sd_mm, 'thickness_mm', system)}` : ''}`;

export type LeverEstimate = { bite_mm: Interval; full_mm: Interval } | null;

export function brake_figure(wheel: WheelName, brake: WheelBrake, lever: LeverEstimate, system: System): Figure {
  const { rotor, pads } = brake;
  const unit = unit_of('thickness_mm', system);
  const mm = (v: number) => number_text(v, 'thickness_mm', system);
  const rotor_words = rotor.thickness_mm === null ? 'thickness never measured' : `${mm(rotor.thickness_mm)} ${unit} thick${rotor.thickness_sd_mm ? ` ± ${mm(2 * rotor.thickness_sd_mm)}` : ''}`;
  const limits = [
    rotor.least_thickness_mm === null ? 'The limit of the rotor is not known.' : `Limit of the rotor ${mm(rotor.least_thickness_mm)} ${unit}.`,
    pads.least_friction_mm === null ? 'The limit of the pads is not known.' : `Limit of the pads ${mm(pads.least_friction_mm)} ${unit} of friction material.`,
  ];
  const assumptions = [
    `The gap is drawn at ${drawn_gap_mm} mm a side (common practice); nobody measured it.`,
    ...(pads.plate_measured ? [] : ['The plate was not measured; its thickness is assumed.']),
    ...(pads.left.friction_thickness_mm === null || pads.right.friction_thickness_mm === null ? ['A pad that nobody measured is drawn dashed, at a thickness that means nothing.'] : []),
    ...(rotor.thickness_mm === null ? ['The rotor was never measured; it is drawn dashed, at a thickness that means nothing.'] : []),
    ...(brake.lever.reach_mm === null && brake.lever.bite_mm === null ? [] : lever_assumptions),
    'A thickness says nothing about a cracked or lifting bond between pad and plate.',
  ];
  return {
    id: `${wheel}-brake`,
    title: `${wheel === 'front' ? 'Front' : 'Rear'} brake, as measured`,
    says: `${wheel} brake: rotor ${rotor.diameter_mm} mm across, ${rotor_words}; left pad ${pad_words(pads.left, system)}, right pad ${pad_words(pads.right, system)}. ${limits.join(' ')}`,
    caption: `Section through pads and rotor, thicknesses to scale, heights cut short; below it the rotor's face and the lever from above, each at its own smaller scale. Thin dashed lines are limits. ${limits.join(' ')}`,
    interval: 'A soft edge is how sure the reading is: two standard uncertainties to each side.',
    assumptions, sources: ['This bike’s own readings and description.'],
    table: {
      head: ['part', 'now', 'limit'],
      rows: [
        ['left pad, friction material', pad_words(pads.left, system), pads.least_friction_mm === null ? 'not known' : `${mm(pads.least_friction_mm)} ${unit}`],
        ['right pad, friction material', pad_words(pads.right, system), pads.least_friction_mm === null ? 'not known' : `${mm(pads.least_friction_mm)} ${unit}`],
        ['plate', pads.plate_thickness_mm === null ? 'never measured' : `${mm(pads.plate_thickness_mm)} ${unit}${pads.plate_measured ? '' : ', assumed'}`, '–'],
        ['rotor', rotor_words, rotor.least_thickness_mm === null ? 'not known' : `${mm(rotor.least_thickness_mm)} ${unit}`],
        ...(brake.lever.reach_mm === null ? [] : [['lever at rest, from the bar', `${number_text(brake.lever.reach_mm, 'length_mm', system)} ${unit_of('length_mm', system)}`, '–']]),
        ...(lever ? [['bite point, from the bar', `${number_text(lever.bite_mm.p50, 'length_mm', system, 2)} (${number_text(lever.bite_mm.p05, 'length_mm', system, 2)} to ${number_text(lever.bite_mm.p95, 'length_mm', system, 2)}) ${unit_of('length_mm', system)}`, '–']] : []),
      ],
    },
    draw: (width) => draw(width, wheel, brake, lever, system),
  };
}

function draw(width: number, wheel: WheelName, brake: WheelBrake, lever: LeverEstimate, system: System): SVGSVGElement {
  const { rotor, pads } = brake;
  const s = section(brake);
  const unit = unit_of('thickness_mm', system);
  const mm = (v: number) => number_text(v, 'thickness_mm', system);
  const margin = 6;
  const px = Math.min(10 * css_px_per_mm, (Math.min(width, 460) - 2 * margin) / s.width_mm);   // pixels a millimetre, across
  const x = (v: number) => margin + v * px;
  const top = 40, pad_h = 118, plate_over = 12, rotor_over = 22;
  const pad_y = top, plate_y = top - plate_over, rotor_y = top - rotor_over, bottom = top + pad_h;
  const out: SVGElement[] = [];
  const defs = el('defs');
  out.push(defs);
  const text = (at_x: number, y: number, words: string, more: Record<string, string | number> = {}) => el('text', { x: at_x, y, 'text-anchor': 'middle', ...more }, words);
  const fill = { plate: 'var(--plate)', pad: 'var(--pad)', rotor: 'var(--steel)' };
  for (const slab of s.slabs) {
    const [y, h] = slab.what === 'plate' ? [plate_y, pad_h + 2 * plate_over] : slab.what === 'rotor' ? [rotor_y, pad_h + 2 * rotor_over] : [pad_y, pad_h];
    out.push(el('rect', { x: x(slab.x1_mm), y, width: (slab.x2_mm - slab.x1_mm) * px, height: h, fill: slab.known || slab.what === 'plate' ? fill[slab.what] : 'none', stroke: 'var(--ink)', 'stroke-width': 1, ...(slab.known ? {} : { 'stroke-dasharray': '5 4' }) }));
  }
  const soften = (edge_mm: number, sd_mm: number | null, y: number, h: number) => {
    if (!sd_mm) return;
    const id = fresh_id('edge');
    defs.append(edge_gradient(id));
    const half = Math.max(1.5, 2 * sd_mm * px);
    out.push(el('rect', { x: x(edge_mm) - half, y, width: 2 * half, height: h, fill: `url(#${id})` }));
  };
  const [plate_l, pad_l, disc, pad_r, plate_r] = s.slabs as [Slab, Slab, Slab, Slab, Slab];
  soften(pad_l.x2_mm, pads.left.sd_mm, pad_y, pad_h);
  soften(pad_r.x1_mm, pads.right.sd_mm, pad_y, pad_h);
  soften(disc.x1_mm, rotor.thickness_sd_mm, rotor_y, pad_h + 2 * rotor_over);
  soften(disc.x2_mm, rotor.thickness_sd_mm, rotor_y, pad_h + 2 * rotor_over);
  const limit_line = (at_mm: number, y1: number, y2: number) => out.push(el('path', { d: `M${x(at_mm).toFixed(1)} ${y1}V${y2}`, stroke: 'var(--hold)', 'stroke-dasharray': '3 3', fill: 'none' }));
  if (pads.least_friction_mm !== null) {
    limit_line(pad_l.x1_mm + pads.least_friction_mm, pad_y, bottom);
    limit_line(pad_r.x2_mm - pads.least_friction_mm, pad_y, bottom);
  }
  if (rotor.least_thickness_mm !== null) {
    const middle = (disc.x1_mm + disc.x2_mm) / 2;
    limit_line(middle - rotor.least_thickness_mm / 2, rotor_y, bottom + rotor_over);
    limit_line(middle + rotor.least_thickness_mm / 2, rotor_y, bottom + rotor_over);
  }
  // Dimension lines: pads below, rotor above, plate inside.
  const dimension = (a: number, b: number, y: number, words: string, small: string) => {
    const xa = x(a), xb = x(b);
    out.push(el('path', { d: `M${xa.toFixed(1)} ${y}H${xb.toFixed(1)}M${xa.toFixed(1)} ${y - 5}v10M${xb.toFixed(1)} ${y - 5}v10`, stroke: 'var(--ink)', fill: 'none' }));
    out.push(text((xa + xb) / 2, y + 20, words, { 'font-weight': 650, 'font-size': 14 }));
    if (small) out.push(text((xa + xb) / 2, y + 36, small, { fill: 'var(--soft)', 'font-size': 12 }));
  };
  const pad_label = (p: PadSide) => (p.friction_thickness_mm === null ? '?' : mm(p.friction_thickness_mm));
  const pad_small = (p: PadSide, side: string) => (p.friction_thickness_mm === null ? `${side}, not read` : p.sd_mm ? `±${mm(2 * p.sd_mm)}, ${side}` : side);
  const y_dim = bottom + rotor_over + 14;
  dimension(pad_l.x1_mm, pad_l.x2_mm, y_dim, pad_label(pads.left), pad_small(pads.left, 'left'));
  dimension(pad_r.x1_mm, pad_r.x2_mm, y_dim, pad_label(pads.right), pad_small(pads.right, 'right'));
  dimension(disc.x1_mm, disc.x2_mm, y_dim, rotor.thickness_mm === null ? '?' : mm(rotor.thickness_mm), rotor.thickness_mm === null ? 'rotor, not read' : 'rotor');
  const plate_words = pads.plate_thickness_mm === null ? '?' : mm(pads.plate_thickness_mm);
  for (const p of [plate_l, plate_r]) {
    out.push(text(x((p.x1_mm + p.x2_mm) / 2), top + pad_h / 2 - 4, plate_words, { fill: 'var(--ink)', 'font-size': 12 }));
    out.push(text(x((p.x1_mm + p.x2_mm) / 2), top + pad_h / 2 + 12, pads.plate_measured ? 'plate' : 'guessed', { fill: 'var(--ink)', 'font-size': 11.5 }));
  }
  out.push(el('text', { x: margin, y: 13, fill: 'var(--soft)', 'font-size': 12 }, `${unit}, ${px / css_px_per_mm >= 9.95 ? 'ten' : (px / css_px_per_mm).toFixed(1)} times life size`));
  let y = y_dim + 58;

  // The rotor's face, and the lever beside it, each at its own scale.
  const face_r = 58, face_x = margin + face_r + 2, face_y = y + face_r + 4;
  const k = face_r / (rotor.diameter_mm / 2);
  const inner = rotor.band_inner_mm ?? rotor.diameter_mm * 0.86;
  out.push(el('circle', { cx: face_x, cy: face_y, r: face_r, fill: 'var(--steel)', stroke: 'var(--ink)' }));
  out.push(el('circle', { cx: face_x, cy: face_y, r: (inner / 2) * k, fill: 'var(--paper)', stroke: 'var(--ink)', ...(rotor.band_inner_mm === null ? { 'stroke-dasharray': '5 4' } : {}) }));
  for (let arm = 0; arm < 6; ++arm) {
    const a = (arm * Math.PI) / 3, from = 22 * k, to = (inner / 2) * k;
    out.push(el('path', { d: `M${(face_x + from * Math.cos(a)).toFixed(1)} ${(face_y + from * Math.sin(a)).toFixed(1)}L${(face_x + to * Math.cos(a + 0.35)).toFixed(1)} ${(face_y + to * Math.sin(a + 0.35)).toFixed(1)}`, stroke: 'var(--soft)', fill: 'none' }));
  }
  out.push(el('circle', { cx: face_x, cy: face_y, r: 22 * k, fill: 'var(--paper)', stroke: 'var(--ink)' }));
  out.push(text(face_x, face_y + face_r + 18, rotor_told(rotor), { fill: 'var(--soft)', 'font-size': 12, 'data-quoted': '' }));

  // The lever from above: beside the face where there is room, else beneath it.
  const w = Math.min(width, 460), reach = brake.lever.reach_mm;
  const bite: Interval | null = lever?.bite_mm ?? (brake.lever.bite_mm === null ? null : { p05: brake.lever.bite_mm, p50: brake.lever.bite_mm, p95: brake.lever.bite_mm });
  const beside = w >= 420, lever_x = beside ? face_x + face_r + 20 : margin, lever_y = beside ? y - 14 : face_y + face_r + 34;
  y = face_y + face_r + 28;
  if (reach === null && !bite) out.push(el('text', { x: lever_x, y: lever_y + 40, fill: 'var(--soft)' }, 'lever: never measured'));
  else {
    const drawn = lever_drawn({ reach_mm: reach, bite_mm: bite, full_mm: lever?.full_mm ?? null, window_mm: null, full_words: 'full squeeze' }, lever_x, lever_y, w - lever_x - 2, css_px_per_mm, system);
    out.push(...drawn.parts);
    const under = lever_y + drawn.height + 14;
    out.push(el('text', { x: lever_x, y: under, fill: 'var(--soft)', 'font-size': 12 }, `lever from above, ${system === 'metric' ? 'mm' : 'inches'} from the bar${drawn.scale >= css_px_per_mm * 0.99 ? ', life size' : ''}`));
    y = Math.max(y, under + 10);
  }
  const svg = sheet_of(w, y, ...out);
  svg.dataset.wheel = wheel;
  return svg;
}
