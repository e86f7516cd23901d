// SPDX-License-Identifier: Apache-2.0
// Colours by name, as src/sheet.css sets them in the light: what a saved figure is written with.          Layer: web
// tests/unit/palette.test.ts holds the two files to each other and every pair to its contrast.

export const light = {
  paper: '#faf8f3', ink: '#1d2430', soft: '#5b6472', line: '#cfcabd', act: '#0b5d66', hold: '#8c1d18', look: '#7a5200',
  plate: '#d9d5ca', pad: '#e9dfc8', steel: '#eef0f2',
} as const;
export const dark = {
  paper: '#14181f', ink: '#ece7db', soft: '#a7adb8', line: '#3a414d', act: '#6cc3cc', hold: '#ff9a8f', look: '#f0c069',
  plate: '#3b4048', pad: '#4d4536', steel: '#2a3038',
} as const;
export type Colour = keyof typeof light;

export const colour = (name: Colour): string => `var(--${name})`;

//! What steel turns to when heated, a step every 50 K from 100 °C: a scale to read values from, not a tint to expect.
export const steel_from_degC = 100;
export const steel_step_K = 50;
export const steel_colours = ['#f3e8c6', '#e6c877', '#c98a3a', '#8f4a24', '#6b2f63', '#2e4e8f', '#8aa0b5'] as const;
export const steel_names = ['pale straw', 'straw', 'gold', 'brown', 'purple', 'blue', 'grey-blue'] as const;

//! Step of the scale at a temperature [°C], null below it; the last step is open upwards.
export function steel_step(temperature_degC: number): number | null {
  if (!(temperature_degC >= steel_from_degC)) return null;
  return Math.min(steel_colours.length - 1, Math.floor((temperature_degC - steel_from_degC) / steel_step_K));
}

export function steel_colour(temperature_degC: number): string {
  const step = steel_step(temperature_degC);
  return step === null ? 'var(--steel)' : (steel_colours[step] as string);
}

//! Ink that can be read on a step: dark on the pale ones, light on the deep ones (4.5:1, tested).
export function ink_on_steel(temperature_degC: number): string {
  const step = steel_step(temperature_degC);
  if (step === null) return 'var(--ink)';
  return step >= 3 && step <= 5 ? '#ffffff' : '#1d2430';
}
