/** Pieces on a roll, to scale. Lengths are in pixels so that letters keep their size on any screen. */
import { useEffect, useRef, useState } from "preact/hooks";

import { t } from "../messages/index.js";
import type { Layout } from "./answer.js";

/** The roll's width on the screen is at least this; a long pull is then scrolled. */
const LEAST_ACROSS_PX = 120;
/** And at most this, or a short pull would fill the screen. */
const MOST_ACROSS_PX = 420;
/** A letter's width and a line's height, roughly, for what fits into a box. */
const LETTER_PX = 8.5;
const LINE_PX = 20;

/** The drawing. Its figures are in the tables beside it. */
export function LayoutView({ layout }: { layout: Layout }) {
  const frame = useRef<HTMLDivElement>(null);
  const [room, setRoom] = useState(0);
  useEffect(() => {
    const watched = frame.current;
    if (watched === null) return;
    const observer = new ResizeObserver(() => setRoom(watched.clientWidth));
    observer.observe(watched);
    return () => observer.disconnect();
  }, []);
  const { acrossMm, alongMm, blanks } = layout;
  const scale = Math.min(Math.max(room / alongMm, LEAST_ACROSS_PX / acrossMm), MOST_ACROSS_PX / acrossMm);
  const [width, height] = [alongMm * scale, acrossMm * scale];
  return (
    <figure class="layout">
      <div ref={frame} class="layout-frame" tabIndex={0} role="region" aria-label={layout.what}>
        {room > 0 && (
          <svg width={width} height={height} role="img" aria-label={t.job.chart(layout.what)}>
            <rect class="film" width={width} height={height} />
            {blanks.map((blank, index) => {
              // The pull runs to the right, so what lies along the roll is drawn across the screen.
              const [x, y, w, h] = [blank.yMm * scale, blank.xMm * scale, blank.heightMm * scale, blank.widthMm * scale];
              const words = `${index + 1} ${blank.label}`;
              const fits = words.length * LETTER_PX < w && h > LINE_PX;
              return (
                <g key={index} data-blank={index}>
                  <rect class="blank" x={x + 1} y={y + 1} width={Math.max(1, w - 2)} height={Math.max(1, h - 2)} />
                  {h > LINE_PX && w > LETTER_PX && (
                    <text x={x + w / 2} y={y + h / 2} dominant-baseline="central" text-anchor="middle">
                      {fits ? words : index + 1}
                    </text>
                  )}
                </g>
              );
            })}
          </svg>
        )}
      </div>
      <figcaption>{layout.caption}</figcaption>
    </figure>
  );
}
