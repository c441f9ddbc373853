/** The calculators, for a gloved hand: pick one, fill it in, read the answer from an arm's length. */
import { refusalOf } from "@lamella/client";
import { useEffect, useMemo, useRef, useState } from "preact/hooks";

import { t } from "../messages/index.js";
import { go, place } from "../router.js";
import { Shell } from "../ui/Shell.js";
import { chooseSystem, system } from "../units/system.js";
import type { Answer, Calculator } from "./answer.js";
import { AnswerView } from "./AnswerView.js";
import { CALCULATORS } from "./calculators.js";
import { FieldView, GroupView } from "./Fields.js";
import { type Faults, type Field, fromQuery, readAll, toAddress, toQuery, type Typed } from "./form.js";
import { loadShop } from "./shop.js";

/** The bench; without an id, the choice of calculators. */
export function Bench({ id }: { id: string }) {
  const found = CALCULATORS.find((calculator) => calculator.id === id);
  useEffect(() => void loadShop(), []);
  return (
    <Shell title={found?.name ?? t.bench.title}>
      <div class="bench">
        <div class="bench-head">
          {found !== undefined && (
            <a class="all-tools" href={`/bench${unitsQuery()}`}>
              {t.bench.all}
            </a>
          )}
          {found !== undefined && (
            <nav class="tools" aria-label={t.bench.choose}>
              {CALCULATORS.map(({ id: each, name }) => (
                <a key={each} href={`/bench/${each}${unitsQuery()}`} aria-current={each === id ? "page" : undefined}>
                  {name}
                </a>
              ))}
            </nav>
          )}
          <Units />
        </div>
        {found === undefined ? <Choice /> : <Form calculator={found} />}
      </div>
    </Shell>
  );
}

/** Keeps the choice of units from page to page. */
function unitsQuery(): string {
  const units = place.value.query.get("units");
  return units === null ? "" : `?units=${units}`;
}

function Units() {
  return (
    <div class="choices" role="group" aria-label={t.app.units}>
      {(["metric", "us"] as const).map((each) => (
        <button key={each} type="button" aria-pressed={system.value === each} onClick={() => chooseSystem(each)}>
          {t.app[each]}
        </button>
      ))}
    </div>
  );
}

function Choice() {
  return (
    <>
      <h1>{t.bench.title}</h1>
      <p class="intro">{t.bench.intro}</p>
      <ul class="tiles">
        {CALCULATORS.map(({ id, name, about }) => (
          <li key={id}>
            <a href={`/bench/${id}${unitsQuery()}`}>
              <strong>{name}</strong>
              <span>{about}</span>
            </a>
          </li>
        ))}
      </ul>
    </>
  );
}

/** What became of the last question. */
type Outcome =
  | { readonly kind: "none" }
  | { readonly kind: "working" }
  | { readonly kind: "answer"; readonly answer: Answer }
  | { readonly kind: "refused"; readonly messages: readonly string[] };

function Form({ calculator }: { calculator: Calculator }) {
  const { fields, groups } = calculator;
  const [typed, setTyped] = useState<Typed>(() => fromQuery(place.value.query, fields, groups));
  const [faults, setFaults] = useState<Faults>(new Map());
  const [outcome, setOutcome] = useState<Outcome>({ kind: "none" });
  // Whether the address holds all that was asked.
  const [linked, setLinked] = useState(true);

  const ask = async (input: Typed) => {
    const { values, faults: found } = readAll(input, fields, groups);
    setFaults(found);
    if (found.size > 0) {
      setOutcome({ kind: "none" });
      // The first input at fault is where to go on.
      const [first] = found.keys();
      requestAnimationFrame(() => goTo(first ?? ""));
      return;
    }
    setOutcome({ kind: "working" });
    try {
      setOutcome({ kind: "answer", answer: await calculator.ask(values) });
    } catch (error) {
      setOutcome({ kind: "refused", messages: messagesOf(error) });
    }
  };
  // On a phone the answer lies below the form; whoever asked wants to see it.
  const answered = useRef<HTMLElement>(null);
  const done = outcome.kind === "answer" || outcome.kind === "refused";
  useEffect(() => {
    if (done && (answered.current?.getBoundingClientRect().top ?? 0) > innerHeight * 0.6) answered.current?.scrollIntoView();
  }, [done]);
  // An address with inputs is a question. Asked again where the units changed: the answer is written in them.
  const asked = useMemo(() => toQuery(fromQuery(place.peek().query, fields, groups)).size > 0, []);
  useEffect(() => {
    if (asked || outcome.kind === "answer") void ask(typed);
  }, [system.value]);

  const submit = (event: Event) => {
    event.preventDefault();
    const { query, whole } = toAddress(typed, fields);
    setLinked(whole);
    const units = place.value.query.get("units");
    if (units !== null) query.set("units", units);
    go(`/bench/${calculator.id}?${query}`, "replace");
    void ask(typed);
  };
  const clear = () => {
    setTyped(fromQuery(new URLSearchParams(), fields, groups));
    setFaults(new Map());
    setOutcome({ kind: "none" });
    setLinked(true);
    go(`/bench/${calculator.id}${unitsQuery()}`, "replace");
  };
  const set = (id: string, text: string) => setTyped((before) => ({ ...before, fields: { ...before.fields, [id]: text } }));
  // What is folded away goes by sections, in the order in which the form names them.
  const sections = [...new Set([...fields, ...groups].flatMap(({ more }) => (more === undefined ? [] : [more])))];
  const part = (section: string | undefined) => (
    <Part
      fields={fields.filter(({ more }) => more === section)}
      groups={groups.filter(({ more }) => more === section)}
      {...{ typed, faults, set, setTyped }}
    />
  );
  // Only from the start: a section does not shut on whoever empties its last input.
  const [open] = useState(() => new Set(sections.filter((section) => isUsed(section, calculator, typed))));

  return (
    <div class="work">
      <form noValidate onSubmit={submit} aria-labelledby="calculator">
        <h1 id="calculator">{calculator.name}</h1>
        <p class="about">{calculator.about}</p>
        {part(undefined)}
        {sections.length > 0 && (
          <div class="sections">
            {sections.map((section) => (
              <details key={section} open={open.has(section)}>
                <summary>{section}</summary>
                {part(section)}
              </details>
            ))}
          </div>
        )}
        <div class="buttons">
          <button type="submit" class="main">
            {t.bench.work}
          </button>
          <button type="button" onClick={clear}>
            {t.bench.clear}
          </button>
        </div>
      </form>
      <section ref={answered} class="answer" aria-label={t.bench.answer} aria-live="polite" aria-busy={outcome.kind === "working"} data-outcome={outcome.kind}>
        {outcome.kind === "none" && <p class="hint">{faults.size > 0 ? t.bench.mend : t.bench.waiting}</p>}
        {outcome.kind === "working" && <p class="hint">{t.bench.working}</p>}
        {outcome.kind === "refused" && (
          <div class="refused">
            <h2>{t.app.failed}</h2>
            <ul>
              {outcome.messages.map((message) => (
                <li key={message}>{message}</li>
              ))}
            </ul>
          </div>
        )}
        {outcome.kind === "answer" && <AnswerView answer={outcome.answer} />}
        {outcome.kind === "answer" && !linked && <p class="hint not-linked">{t.bench.notLinked}</p>}
      </section>
    </div>
  );
}

/** Puts the cursor into an input, unfolding the section that it lies in. */
function goTo(id: string): void {
  const input = document.getElementById(id);
  const folded = input?.closest("details");
  if (folded) folded.open = true;
  input?.focus();
}

/** Whether anything was typed into a section. */
function isUsed(section: string, { fields, groups }: Calculator, typed: Typed): boolean {
  return (
    fields.some(({ id, more }) => more === section && typed.fields[id] !== "") ||
    groups.some(({ id, more }) => more === section && (typed.rows[id] ?? []).length > 0)
  );
}

/** The inputs of one section. */
function Part(props: {
  fields: readonly Field[];
  groups: Calculator["groups"];
  typed: Typed;
  faults: Faults;
  set: (id: string, text: string) => void;
  setTyped: (typed: Typed) => void;
}) {
  const { fields, groups, typed, faults, set, setTyped } = props;
  return (
    <>
      {fields.length > 0 && (
        <div class="fields">
          {fields.map((field) => (
            <FieldView key={field.id} field={field} text={typed.fields[field.id] ?? ""} faults={faults} onText={(text) => set(field.id, text)} />
          ))}
        </div>
      )}
      {groups.map((group) => (
        <GroupView key={group.id} group={group} typed={typed} faults={faults} onTyped={setTyped} />
      ))}
    </>
  );
}

/** Every fault that the daemon found, with its field, or else the error's own words. */
function messagesOf(error: unknown): string[] {
  const { violations, conditions, message } = refusalOf(error);
  const told = [
    ...violations.map(({ field, description }) => `${field}: ${description}`),
    ...conditions.map(({ description }) => description),
  ];
  return told.length > 0 ? told : [message];
}
