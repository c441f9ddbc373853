/** What the job costs, line by line, as the shop's plugin made it. */
import type { Money, Quote } from "@lamella/client";

import { t } from "../messages/index.js";
import { full, millis } from "../times.js";
import { Cautions } from "../ui/Cautions.js";
import { Table } from "../ui/Chart.js";
import { decimals } from "../units/show.js";
import type { JobView } from "./load.js";

/** An amount in the browser's locale. Minor units become a decimal text first: money is never a float. */
export function money({ currencyCode, minorUnits }: Money): string {
  try {
    const format = new Intl.NumberFormat(undefined, { style: "currency", currency: currencyCode });
    const digits = format.resolvedOptions().maximumFractionDigits ?? 2;
    const text = (minorUnits < 0n ? -minorUnits : minorUnits).toString().padStart(digits + 1, "0");
    const whole = text.slice(0, text.length - digits);
    const decimal = digits === 0 ? whole : `${whole}.${text.slice(-digits)}`;
    // Decimal texts are taken exactly (ECMA-402); the type still says number.
    return format.format(`${minorUnits < 0n ? "-" : ""}${decimal}` as unknown as number);
  } catch {
    // No currency by that code.
    return `${minorUnits} ${currencyCode}`;
  }
}

/** The accepted quote, or else the newest. */
export function Quotes({ view: { quotes } }: { view: JobView }) {
  const quote = quotes?.find((each) => each.acceptTime !== undefined) ?? quotes?.at(-1);
  return (
    <section aria-labelledby="quote">
      <h2 id="quote">{t.job.quote}</h2>
      {quotes === undefined ? (
        <p>{t.job.noQuotes}</p>
      ) : quote === undefined ? (
        <p>{t.job.noQuote}</p>
      ) : (
        <Lines quote={quote} />
      )}
    </section>
  );
}

function Lines({ quote }: { quote: Quote }) {
  const show = (amount: Money | undefined) => (amount === undefined ? t.app.none : money(amount));
  return (
    <>
      <Table
        caption={t.job.quote}
        figures
        head={[t.job.line, t.job.quantity, t.job.price, t.job.amount]}
        rows={[
          ...quote.lines.map((line) => [
            line.description || line.code,
            `${decimals(Number(line.quantityThousandths) / 1000, 3)} ${line.unit}`,
            show(line.unitPrice),
            show(line.amount),
          ]),
          [t.job.net, "", "", show(quote.netTotal)],
          ...quote.taxes.map((tax) => [t.job.tax(tax.taxClass, `${decimals(Number(tax.ratePpm) / 10_000, 4)} %`), "", "", show(tax.tax)]),
          [<strong>{t.job.gross}</strong>, "", "", <strong>{show(quote.grossTotal)}</strong>],
        ]}
      />
      <p class="sum">
        {quote.acceptTime === undefined ? t.job.open : t.job.accepted(full(millis(quote.acceptTime)))}
        {quote.plugin !== "" && `. ${t.job.madeBy(quote.plugin.replace(/^plugins\//, ""))}`}
      </p>
      <Cautions cautions={quote.cautions} />
    </>
  );
}
