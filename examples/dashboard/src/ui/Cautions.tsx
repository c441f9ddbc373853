/** Cautions as the daemon sends them, the gravest first. */
import type { Caution } from "@lamella/client";

import { t } from "../messages/index.js";

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
          <p>{caution.text}</p>
          <p class="basis">{caution.basis}</p>
        </li>
      ))}
    </ul>
  );
}
