/** Two strengths into one between them, or what several make together. */
import { lamella } from "../api.js";
import { t } from "../messages/index.js";
import { decimals } from "../units/show.js";
import { short } from "../units/system.js";
import { type Calculator, fact, optional } from "./answer.js";

const b = t.calculators.blend;
const percent = { type: "quantity", dimension: "percent" } as const;
const amount = { type: "amount" } as const;

export const blend: Calculator = {
  id: "blend",
  name: b.name,
  about: b.about,
  fields: [
    { id: "target", label: b.target, kind: percent, example: "30%" },
    { id: "total", label: b.total, kind: amount, example: "500ml, 300g" },
    { id: "substance", label: b.substance, kind: { type: "choice", options: t.calculators.dilute.substances } },
  ],
  groups: [
    {
      id: "liquid",
      label: b.liquids,
      one: b.liquid,
      least: 2,
      mayBeEmpty: true,
      fields: [
        { id: "strength", label: b.strength, kind: percent, required: true, example: "70%" },
        { id: "amount", label: b.amount, kind: amount, example: "200ml, 7oz" },
      ],
    },
  ],
  async ask(values) {
    const answer = await lamella.calculator.blendStrengths({
      liquids: values.rows("liquid").map((row) => ({
        percent: row.needed("strength"),
        ...optional("volumeMl", row.ml("amount")),
        ...optional("massG", row.grams("amount")),
      })),
      ...optional("targetPercent", values.number("target")),
      ...optional("totalMl", values.ml("total")),
      ...optional("totalG", values.grams("total")),
      substance: values.number("substance") ?? 0,
    });
    return {
      // Without amounts there are still parts to pour by.
      headline: answer.parts.flatMap(({ percent, volumeMl, massG, parts }, index) => {
        const label = short("percent", percent);
        const amounts = [
          ...fact(`parts.${index}.volumeMl`, label, "ml", volumeMl),
          ...fact(`parts.${index}.massG`, label, "g", massG),
        ];
        return amounts.length > 0 ? amounts : fact(`parts.${index}.parts`, b.partsOf(label), "number", parts);
      }),
      facts: [
        ...fact("percent", b.result, "percent", answer.percent),
        ...fact("totalMl", b.inAll, "ml", answer.totalMl),
        ...fact("totalG", b.inAll, "g", answer.totalG),
        ...fact("trueTotalMl", b.trueTotal, "ml", answer.trueTotalMl),
        ...fact("trueStrengthPercent", b.trueStrength, "percent", answer.trueStrengthPercent),
      ],
      lines: [],
      tables: [
        {
          caption: b.liquids,
          head: [b.strength, b.parts, b.share, b.amount],
          rows: answer.parts.map(({ percent, parts, sharePercent, volumeMl, massG }) => [
            short("percent", percent),
            short("number", parts),
            `${decimals(sharePercent, 1)} %`,
            volumeMl !== undefined ? short("ml", volumeMl) : massG !== undefined ? short("g", massG) : t.app.none,
          ]),
        },
      ],
      cautions: answer.cautions,
      model: answer.model,
    };
  },
};
