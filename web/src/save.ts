// SPDX-License-Identifier: Apache-2.0
// A figure as a file that can stand alone: caption, interval, assumptions and sources go with it.         Layer: web
import fontUrl from './assets/inter.woff2?url';
import { el, wrapped, type Figure } from './figures/figure';
import { light, type Colour } from './palette';

export function notes_of(figure: Figure): { head: string; text: string }[] {
  return [
    { head: '', text: figure.caption },
    { head: 'Interval', text: figure.interval },
    { head: 'Holds', text: (figure.claims ?? []).join(' · ') },
    { head: 'Assumed', text: figure.assumptions.join(' · ') },
    { head: 'Sources', text: figure.sources.join(' · ') },
    { head: '', text: 'An estimate does not replace an inspection. The maker’s instructions and local rules come first. If in doubt do not ride, and see a qualified mechanic.' },
  ].filter((n) => n.text);
}

//! The figure at `width` px with its words beneath, colours of the light, nothing that a reader would have to fetch.
export function whole_svg(figure: Figure, width: number, font_css: string): SVGSVGElement {
  const drawn = figure.draw(width - 40);
  const drawn_w = Number(drawn.getAttribute('width')), drawn_h = Number(drawn.getAttribute('height'));
  drawn.setAttribute('x', '20');
  drawn.setAttribute('y', '48');
  const letters = Math.floor((width - 40) / 6.5);
  const lines: SVGElement[] = [];
  let y = 48 + drawn_h + 24;
  for (const note of notes_of(figure)) {
    for (const [i, line] of wrapped((note.head ? `${note.head}: ` : '') + note.text, letters).entries()) {
      lines.push(el('text', { x: 20, y, 'font-size': 12.5, fill: i === 0 && !note.head ? 'var(--ink)' : 'var(--soft)' }, line));
      y += 17;
    }
    y += 5;
  }
  const svg = el('svg', { xmlns: 'http://www.w3.org/2000/svg', width: Math.max(width, drawn_w + 40), height: y + 8, viewBox: `0 0 ${Math.max(width, drawn_w + 40)} ${y + 8}`, 'font-family': 'Inter, sans-serif', role: 'img' },
    el('title', {}, figure.title), el('desc', {}, figure.says),
    ...(font_css ? [el('style', {}, font_css)] : []),
    el('rect', { width: '100%', height: '100%', fill: 'var(--paper)' }),
    el('text', { x: 20, y: 30, 'font-size': 20, 'font-weight': 650, fill: 'var(--ink)' }, figure.title), drawn, ...lines);
  for (const e of svg.querySelectorAll('[font-family]')) if (e !== svg) e.setAttribute('font-family', 'inherit');
  return svg;
}

export function resolved(svg_text: string): string {
  return svg_text.replace(/var\(--([a-z]+)\)/g, (whole, name: string) => light[name as Colour] ?? whole).replace(/currentColor/gi, light.ink);
}

let font: Promise<string> | null = null;
function font_rules(): Promise<string> {
  font ??= fetch(fontUrl)
    .then((r) => r.arrayBuffer())
    .then((bytes) => {
      let text = '';
      for (const b of new Uint8Array(bytes)) text += String.fromCharCode(b);
      return `@font-face{font-family:Inter;font-weight:400 700;src:url(data:font/woff2;base64,${btoa(text)})}`;
    })
    .catch(() => '');
  return font;
}

function give(name: string, blob: Blob): void {
  const url = URL.createObjectURL(blob);
  const a = document.createElement('a');
  a.href = url;
  a.download = name;
  a.click();
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}

const saved_width = 900;
async function text_of(figure: Figure): Promise<{ text: string; width: number; height: number }> {
  const svg = whole_svg(figure, saved_width, await font_rules());
  return { text: resolved(new XMLSerializer().serializeToString(svg)), width: Number(svg.getAttribute('width')), height: Number(svg.getAttribute('height')) };
}

export async function save_svg(figure: Figure): Promise<void> {
  give(`${figure.id}.svg`, new Blob([(await text_of(figure)).text], { type: 'image/svg+xml' }));
}

export async function save_png(figure: Figure): Promise<void> {
  const { text, width, height } = await text_of(figure);
  const image = new Image();
  const url = URL.createObjectURL(new Blob([text], { type: 'image/svg+xml' }));
  try {
    await new Promise((ok, bad) => {
      image.onload = ok;
      image.onerror = () => bad(new Error('The picture could not be drawn. Save it as SVG.'));
      image.src = url;
    });
    const canvas = document.createElement('canvas');
    canvas.width = width * 2;
    canvas.height = height * 2;
    canvas.getContext('2d')?.drawImage(image, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise<Blob | null>((ok) => canvas.toBlob(ok, 'image/png'));
    if (!blob) throw new Error('The picture could not be drawn. Save it as SVG.');
    give(`${figure.id}.png`, blob);
  } finally {
    URL.revokeObjectURL(url);
  }
}
