/** What both calculators of paint thickness ask of a gauge. */
import { t } from "../messages/index.js";
import { optional } from "./answer.js";
import type { Field, Values } from "./form.js";

const g = t.calculators.gauge;
const thickness = { type: "quantity", dimension: "thickness" } as const;

/** Its data sheet. */
export const gaugeFields: readonly Field[] = [
  { id: "gauge-error", label: g.limit, kind: thickness, example: "2um, 0.08mil", more: g.title },
  { id: "gauge-percent", label: g.percent, kind: { type: "quantity", dimension: "percent" }, example: "3%", more: g.title },
  { id: "gauge-step", label: g.step, kind: thickness, example: "1um", more: g.title },
  { id: "principles", label: g.principles, kind: { type: "choices", options: g.principleNames }, more: g.title },
];

/** The gauge, if anything was said of it; the daemon has a default. */
export function gaugeOf(values: Values) {
  const gauge = {
    ...optional("limitUm", values.number("gauge-error")),
    ...optional("limitPercent", values.number("gauge-percent")),
    ...optional("resolutionUm", values.number("gauge-step")),
    principles: values.series("principles"),
  };
  const said = Object.keys(gauge).length > 1 || gauge.principles.length > 0;
  return said ? { gauge } : {};
}
