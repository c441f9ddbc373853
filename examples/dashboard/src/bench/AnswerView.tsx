/** An answer: what to do in the largest type, cautions right below it, then the rest. */
import { t } from "../messages/index.js";
import { Cautions } from "../ui/Cautions.js";
import { Chart, Table } from "../ui/Chart.js";
import { show } from "../units/show.js";
import { system } from "../units/system.js";
import type { Answer, Fact } from "./answer.js";
import { LayoutView } from "./LayoutView.js";

/** The answer of any calculator. */
export function AnswerView({ answer }: { answer: Answer }) {
  const { verdict } = answer;
  return (
    <>
      <h2 class="hidden">{t.bench.answer}</h2>
      {verdict !== undefined && (
        <div class={`verdict ${verdict.tone}`}>
          <p class="verdict-text">{verdict.text}</p>
          {verdict.sentence !== "" && <p>{verdict.sentence}</p>}
        </div>
      )}
      {answer.headline.length > 0 && (
        <dl class="headline">
          {answer.headline.map((fact) => (
            <FactView key={fact.id} fact={fact} />
          ))}
        </dl>
      )}
      <Cautions cautions={answer.cautions} />
      {answer.facts.length > 0 && (
        <dl class="facts">
          {answer.facts.map((fact) => (
            <FactView key={fact.id} fact={fact} />
          ))}
        </dl>
      )}
      {answer.lines.length > 0 && (
        <ul class="lines">
          {answer.lines.map((line) => (
            <li key={line}>{line}</li>
          ))}
        </ul>
      )}
      {answer.layout !== undefined && <LayoutView layout={answer.layout} />}
      {answer.chart !== undefined && (
        <Chart what={answer.chart.what} draw={answer.chart.draw}>
          <Table {...answer.chart.table} />
        </Chart>
      )}
      {answer.tables.map((table) => (
        <div key={table.caption}>
          <h3>{table.caption}</h3>
          <Table {...table} />
        </div>
      ))}
      {answer.sums !== undefined && answer.sums.length > 0 && (
        <details>
          <summary>{t.bench.sums}</summary>
          <ul class="lines">
            {answer.sums.map((line) => (
              <li key={line}>{line}</li>
            ))}
          </ul>
        </details>
      )}
      <p class="model">
        {t.bench.model}: {answer.model}
      </p>
    </>
  );
}

function FactView({ fact }: { fact: Fact }) {
  const { first, second } = show(fact.kind, fact.value, system.value);
  return (
    <div>
      <dt>{fact.label}</dt>
      <dd>
        <data value={String(fact.value)} data-fact={fact.id}>
          {first}
        </data>
        {second !== "" && <span class="second">{second}</span>}
      </dd>
    </div>
  );
}
