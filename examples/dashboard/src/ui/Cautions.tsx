/** Cautions as the daemon sends them, the gravest first. */
import { type Caution, Severity } from "@lamella/client";

import { t } from "../messages/index.js";

/** How many cautions may stand in full before the lesser ones are folded away. */
const IN_FULL = 4;

/** Warnings in full; what is less grave can be unfolded where there is much of it. */
export function FoldedCautions({ cautions }: { cautions: readonly Caution[] }) {
  const once = [...new Map(cautions.map((caution) => [`${caution.code} ${caution.text}`, caution])).values()];
  if (once.length <= IN_FULL) return <Cautions cautions={once} />;
  const grave = once.filter(({ severity }) => severity >= Severity.WARNING);
  const lesser = once.filter(({ severity }) => severity < Severity.WARNING);
  return (
    <>
      <Cautions cautions={grave} />
      {lesser.length > 0 && (
        <details>
          <summary>{t.job.moreCautions(lesser.length)}</summary>
          <Cautions cautions={lesser} />
        </details>
      )}
    </>
  );
}

/** Each caution once. */
export function Cautions({ cautions, level = 3 }: { cautions: readonly Caution[]; level?: 3 | 4 }) {
  const once = new Map(cautions.map((caution) => [`${caution.code} ${caution.text}`, caution]));
  const sorted = [...once.values()].sort((a, b) => b.severity - a.severity);
  const Title = `h${level}` as const;
  return (
    <ul class="cautions">
      {sorted.map((caution) => (
        <li key={caution.code + caution.text} class={`caution severity-${caution.severity}`} data-code={caution.code}>
          <Title>{t.severity[caution.severity]}</Title>
          <p>{caution.text.charAt(0).toLocaleUpperCase() + caution.text.slice(1)}</p>
          <p class="basis">{caution.basis}</p>
        </li>
      ))}
    </ul>
  );
}
