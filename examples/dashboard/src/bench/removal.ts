/** What came off between readings before and after. */
import { lamella } from "../api.js";
import { t } from "../messages/index.js";
import { short } from "../units/system.js";
import { type Calculator, fact } from "./answer.js";
import { gaugeFields, gaugeOf } from "./gauge.js";

const r = t.calculators.removal;
const readings = { type: "series", dimension: "thickness" } as const;

export const removal: Calculator = {
  id: "removal",
  name: r.name,
  about: r.about,
  fields: [{ id: "two", label: r.twoGauges, kind: { type: "check" } }, ...gaugeFields],
  groups: [
    {
      id: "spot",
      label: r.spots,
      one: r.spotOne,
      least: 1,
      fields: [
        { id: "name", label: r.spot, kind: { type: "text" } },
        { id: "before", label: r.before, kind: readings, required: true, unless: ["after"], example: "112 114 111um" },
        { id: "after", label: r.after, kind: readings, required: true, unless: ["before"], example: "108 109 108um" },
      ],
    },
  ],
  async ask(values) {
    const side = (id: string) =>
      values
        .rows("spot")
        .map((row) => ({ spot: row.text("name"), readingsUm: row.series(id) }))
        .filter(({ readingsUm }) => readingsUm.length > 0);
    const answer = await lamella.calculator.measureRemoval({
      before: side("before"),
      after: side("after"),
      twoGauges: values.checked("two"),
      ...gaugeOf(values),
    });
    return {
      verdict: { text: r.verdicts[answer.verdict] ?? "", tone: "plain", sentence: "" },
      headline: fact("removalUm", r.removed, "um", answer.removalUm),
      facts: [
        ...fact("lowUm", r.low, "um", answer.lowUm),
        ...fact("highUm", r.high, "um", answer.highUm),
        ...fact("uncertainty.expandedUm", r.uncertainty, "um", answer.uncertainty?.expandedUm),
      ],
      lines: answer.unpaired.length === 0 ? [] : [r.unpaired(answer.unpaired.map((spot) => spot || t.app.none).join(", "))],
      tables: [
        {
          caption: r.spots,
          head: [r.spot, r.meanBefore, r.meanAfter, r.removed],
          rows: answer.spots.map((spot) => [
            spot.spot || t.app.none,
            short("um", spot.beforeUm),
            short("um", spot.afterUm),
            short("um", spot.removalUm),
          ]),
        },
      ],
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};
