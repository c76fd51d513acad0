/** No cue: footfalls alone, on a strip that moves on with the time. */

import { shape } from "./elements.js";

const SHOWN_S = 8;
/** Where on the strip the present is. */
const NOW = 0.85;

/**
 * Draw footfalls as they land.
 * @param {SVGElement} svg empty, of the size told
 * @param {Object} picture
 * @param {{width: number, height: number, still: boolean}} page `still`: the strip stands and is begun anew
 *   when full
 * @returns {{draw: function(number), footfall: function(Object)}}
 */
export function stripStage(svg, picture, page) {
  const perS = page.width / SHOWN_S;
  const y = page.height * 0.55;
  const r = Math.max(8, Math.min(36, 0.05 * page.height, 0.12 * perS));
  const ground = shape("path", { class: "ground", d: `M0 ${y}H${page.width}` });
  const present = shape("path", { class: "present", d: `M0 ${y - 3 * r}V${y + 3 * r}` });
  const feet = shape("g");
  svg.append(ground, present, feet);

  const draw = (time) => {
    const t = Number.isFinite(time) ? time : 0;
    const from = page.still ? Math.max(0, Math.floor(t / SHOWN_S)) * SHOWN_S : t - NOW * SHOWN_S;
    feet.setAttribute("transform", `translate(${(-from * perS).toFixed(2)} 0)`);
    present.setAttribute("transform", `translate(${((t - from) * perS).toFixed(2)} 0)`);
  };

  const footfall = ({ t, size }) => {
    feet.append(
      shape("circle", { class: "heard", cx: (t * perS).toFixed(1), cy: y, r: r * (0.55 + 0.45 * size) }),
    );
  };

  draw(0);
  return { draw, footfall };
}
