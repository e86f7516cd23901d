// SPDX-License-Identifier: Apache-2.0
// The one place where SI becomes what a person reads, and where what a person types becomes a number.     Layer: web
// Digits: as many as the interval deserves, two or three; never more.

export type System = 'metric' | 'imperial';
export type Interval = { p05: number; p50: number; p95: number };
export type Quantity =
  | 'wear_um' | 'ride_m' | 'room_m' | 'height_m' | 'mass_kg' | 'thickness_mm' | 'length_mm' | 'temperature_degC' | 'speed_mps'
  | 'force_N' | 'energy_J' | 'power_W' | 'deceleration_mps2' | 'plain';

type Unit = { unit: string; factor: number; offset?: number };
const metric: Record<Quantity, Unit> = {
  wear_um: { unit: 'µm', factor: 1 }, ride_m: { unit: 'km', factor: 1e-3 }, room_m: { unit: 'm', factor: 1 }, height_m: { unit: 'm', factor: 1 },
  mass_kg: { unit: 'kg', factor: 1 }, thickness_mm: { unit: 'mm', factor: 1 }, length_mm: { unit: 'mm', factor: 1 },
  temperature_degC: { unit: '°C', factor: 1 }, speed_mps: { unit: 'km/h', factor: 3.6 }, force_N: { unit: 'N', factor: 1 },
  energy_J: { unit: 'kJ', factor: 1e-3 }, power_W: { unit: 'W', factor: 1 }, deceleration_mps2: { unit: 'm/s²', factor: 1 },
  plain: { unit: '', factor: 1 },
};
// Exact by definition: foot 0.3048 m, mile 1609.344 m, pound 0.45359237 kg, standard gravity 9.80665 m/s².
const imperial: Record<Quantity, Unit> = {
  ...metric,
  wear_um: { unit: 'thou', factor: 1 / 25.4 }, ride_m: { unit: 'mi', factor: 1 / 1609.344 }, room_m: { unit: 'ft', factor: 1 / 0.3048 }, height_m: { unit: 'ft', factor: 1 / 0.3048 },
  mass_kg: { unit: 'lb', factor: 1 / 0.45359237 }, thickness_mm: { unit: 'in', factor: 1 / 25.4 }, length_mm: { unit: 'in', factor: 1 / 25.4 },
  temperature_degC: { unit: '°F', factor: 1.8, offset: 32 }, speed_mps: { unit: 'mph', factor: 3600 / 1609.344 },
  force_N: { unit: 'lbf', factor: 1 / (0.45359237 * 9.80665) }, deceleration_mps2: { unit: 'ft/s²', factor: 1 / 0.3048 },
};

export const unit_of = (quantity: Quantity, system: System): string => (system === 'metric' ? metric : imperial)[quantity].unit;

export function converted(value: number, quantity: Quantity, system: System): number {
  const u = (system === 'metric' ? metric : imperial)[quantity];
  return value * u.factor + (u.offset ?? 0);
}

//! A number with `digits` significant digits, thousands parted; "-0" never shows.
export function significant(value: number, digits: number): string {
  if (!Number.isFinite(value)) return 'not known';
  if (value === 0) return '0';
  const magnitude = Math.floor(Math.log10(Math.abs(value)));
  const step = Math.pow(10, magnitude - digits + 1);
  const rounded = Math.round(value / step) * step;
  const decimals = Math.max(0, digits - 1 - Math.floor(Math.log10(Math.abs(rounded) || 1)));
  const text = new Intl.NumberFormat('en-GB', { minimumFractionDigits: Math.min(decimals, 6), maximumFractionDigits: Math.min(decimals, 6) }).format(rounded);
  return text === '-0' ? '0' : text.replace('-', '−');
}

//! An interval whose three points are all known; else nothing.
export const whole_interval = (i: { p05: number | null; p50: number | null; p95: number | null } | null | undefined): Interval | null =>
  i && i.p05 !== null && i.p50 !== null && i.p95 !== null ? { p05: i.p05, p50: i.p50, p95: i.p95 } : null;

//! Three digits where the interval is narrower than a quarter of its middle, else two.
export const digits_of = (i: Interval): number => (Math.abs(i.p95 - i.p05) < 0.25 * Math.abs(i.p50) ? 3 : 2);

export function number_text(value: number, quantity: Quantity, system: System, digits = 3): string {
  const v = converted(value, quantity, system);
  if (quantity === 'temperature_degC' || quantity === 'height_m' || (quantity === 'mass_kg' && Math.abs(v) >= 10)) return whole(Math.abs(v) >= 1000 ? Number(v.toPrecision(digits)) : v);
  if (quantity === 'thickness_mm') return v.toFixed(system === 'metric' ? 2 : 4);
  return significant(v, digits);
}

export function with_unit(value: number, quantity: Quantity, system: System, digits = 3): string {
  const unit = unit_of(quantity, system);
  return number_text(value, quantity, system, digits) + (unit ? `\u00a0${unit}` : '');
}

//! "18 m (14 to 24)"; at capped_at (SI) counting ended, and more is only "over".
export function interval_text(i: Interval, quantity: Quantity, system: System, capped_at?: number): string {
  const moved = { p05: converted(i.p05, quantity, system), p50: converted(i.p50, quantity, system), p95: converted(i.p95, quantity, system) };
  const digits = quantity === 'temperature_degC' ? 3 : digits_of(moved);
  const one = (v: number) => (capped_at !== undefined && v >= capped_at ? 'over ' : '') + number_text(v, quantity, system, digits);
  const unit = unit_of(quantity, system);
  return `${one(i.p50)}${unit ? '\u00a0' + unit : ''} (${one(i.p05)} to ${one(i.p95)})`;
}

const whole = (v: number): string => new Intl.NumberFormat('en-GB', { maximumFractionDigits: 0 }).format(Math.round(v) || 0).replace('-', '−');

export const percent = (share: number): string => (share > 0 && share < 0.005 ? 'under 1\u00a0%' : `${whole(share * 100)}\u00a0%`);

export type Typed = { value: number; unit: string | null } | { error: string };

//! What somebody typed: "2,6", "2.6", "2.6 mm", "0,07 in", '.5"'. Comma and point are both decimal marks; thousands are never parted.
export function typed_number(text: string): Typed {
  const clean = text.trim().replace(/\u2212/g, '-').toLowerCase();
  if (!clean) return { error: 'Type a number first.' };
  const match = /^(-?)(\d*)(?:[.,](\d*))?\s*(mm|cm|in|inch|inches|"|”|″|kg|lb|lbs|n|lbf|%)?$/.exec(clean);
  if (!match || (!match[2] && !match[3])) {
    return { error: /[.,].*[.,]/.test(clean) ? `“${text.trim()}” has two decimal marks. Write one, as 2,6 or 2.6.` : `“${text.trim()}” is not a number. Write it as 2,6 or 2.6.` };
  }
  const unit = match[4] ? (/^(inch|inches|"|”|″)$/.test(match[4]) ? 'in' : match[4] === 'lbs' ? 'lb' : match[4]) : null;
  return { value: Number(`${match[1]}${match[2] || '0'}.${match[3] || '0'}`), unit };
}

//! A typed thickness or travel in millimetres; a unit that was typed wins over the switch.
export function typed_mm(text: string, system: System): { value_mm: number } | { error: string } {
  const typed = typed_number(text);
  if ('error' in typed) return typed;
  const unit = typed.unit ?? (system === 'metric' ? 'mm' : 'in');
  if (unit === 'mm') return { value_mm: typed.value };
  if (unit === 'cm') return { value_mm: typed.value * 10 };
  if (unit === 'in') return { value_mm: Number((typed.value * 25.4).toPrecision(12)) };
  return { error: `A length is in mm or inches, not in ${unit}.` };
}

//! "14 December 2026"; days are ISO dates without a clock.
export function day_text(day: string, year = true): string {
  const d = new Date(`${day.slice(0, 10)}T00:00:00Z`);
  return new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'long', ...(year ? { year: 'numeric' } : {}), timeZone: 'UTC' }).format(d);
}

//! "14 Dec 2026", on one line: for tables.
export const day_short = (day: string): string =>
  new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', year: 'numeric', timeZone: 'UTC' }).format(new Date(`${day.slice(0, 10)}T00:00:00Z`)).replace(/ /g, '\u00a0');

export function duration_text(seconds: number): string {
  const minutes = Math.round(seconds / 60);
  return minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, '0')} min`;
}
