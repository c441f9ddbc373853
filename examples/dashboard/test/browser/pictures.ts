/** Invented photos: a panel under a lamp, with and without marks in its paint. Made here, so that none is anyone's. */
import { createHash } from "node:crypto";
import { writeFileSync } from "node:fs";
import { join } from "node:path";

import sharp from "sharp";

/** A file with its name and hash. */
export interface Picture {
  readonly path: string;
  readonly bytes: Buffer;
}

/** A painted panel; with `marks` it shows the circles that a dirty sponge leaves. */
export async function panelPicture(dir: string, name: string, color: string, marks: number, size = { width: 1200, height: 900 }): Promise<Picture> {
  const { width, height } = size;
  const circles = Array.from({ length: marks }, (_, index) => {
    const radius = 30 + ((index * 37) % 260);
    return `<circle cx="${width * 0.55}" cy="${height * 0.42}" r="${radius}" fill="none" stroke="#fff" stroke-opacity="${0.1 + ((index * 7) % 5) / 25}" stroke-dasharray="${20 + ((index * 13) % 60)} ${30 + ((index * 29) % 90)}"/>`;
  }).join("");
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}">
    <defs>
      <linearGradient id="paint" x1="0" y1="0" x2="0.3" y2="1"><stop offset="0" stop-color="${color}" stop-opacity="0.75"/><stop offset="1" stop-color="${color}"/></linearGradient>
      <radialGradient id="lamp" cx="0.55" cy="0.42" r="0.35"><stop offset="0" stop-color="#fff" stop-opacity="0.95"/><stop offset="0.18" stop-color="#fff" stop-opacity="0.35"/><stop offset="1" stop-color="#fff" stop-opacity="0"/></radialGradient>
    </defs>
    <rect width="100%" height="100%" fill="#11181a"/>
    <path d="M0 ${height * 0.2} Q ${width / 2} ${height * 0.02} ${width} ${height * 0.16} V ${height} H 0 Z" fill="${color}"/>
    <path d="M0 ${height * 0.2} Q ${width / 2} ${height * 0.02} ${width} ${height * 0.16} V ${height} H 0 Z" fill="url(#paint)"/>
    <path d="M0 ${height * 0.78} Q ${width / 2} ${height * 0.66} ${width} ${height * 0.74}" stroke="#000" stroke-opacity="0.35" stroke-width="10" fill="none"/>
    <rect width="100%" height="100%" fill="url(#lamp)"/>${circles}
  </svg>`;
  const format = name.endsWith(".png") ? "png" : name.endsWith(".webp") ? "webp" : "jpeg";
  return kept(dir, name, await sharp(Buffer.from(svg)).flatten().toFormat(format, { quality: 82 }).toBuffer());
}

/** The least that counts as HEIC: its boxes and no picture (ISO/IEC 23008-12). */
export function heicPicture(dir: string, name: string): Picture {
  const box = (kind: string, ...content: Buffer[]) => {
    const body = Buffer.concat([Buffer.from(kind), ...content]);
    const size = Buffer.alloc(4);
    size.writeUInt32BE(body.length + 4);
    return Buffer.concat([size, body]);
  };
  const full = Buffer.alloc(4);
  const pixels = Buffer.alloc(8);
  pixels.writeUInt32BE(64, 0);
  pixels.writeUInt32BE(40, 4);
  const properties = box("iprp", box("ipco", box("ispe", full, pixels)));
  return kept(dir, name, Buffer.concat([box("ftyp", Buffer.from("heic"), full, Buffer.from("mif1heic")), box("meta", full, properties), box("mdat", Buffer.alloc(256, 7))]));
}

/** SHA-256 in hexadecimal digits, as the API writes it. */
export const sha256 = (bytes: Uint8Array): string => createHash("sha256").update(bytes).digest("hex");

function kept(dir: string, name: string, bytes: Buffer): Picture {
  const path = join(dir, name);
  writeFileSync(path, bytes);
  return { path, bytes };
}
