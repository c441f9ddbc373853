/** Inputs of a form. */
import { t } from "../messages/index.js";
import { type Faults, type Field, type Group, inputId, type Typed } from "./form.js";
import { shop } from "./shop.js";

/** One input with its label and, where something is wrong, why. */
export function FieldView(props: {
  field: Field;
  text: string;
  faults: Faults;
  onText: (text: string) => void;
  id?: string;
}) {
  const { field, text, faults, onText } = props;
  const id = props.id ?? inputId(field.id);
  const fault = faults.get(id);
  const common = { id, "aria-invalid": fault !== undefined, "aria-describedby": fault === undefined ? undefined : `${id}-fault` };
  if (field.kind.type === "check") {
    return (
      <div class="field check">
        <input type="checkbox" {...common} checked={text === "1"} onChange={(event) => onText(event.currentTarget.checked ? "1" : "")} />
        <label for={id}>{field.label}</label>
      </div>
    );
  }
  const optional = field.required === true ? null : <span class="optional"> {t.bench.optional}</span>;
  const told = fault !== undefined && (
    <p class="fault" id={`${id}-fault`}>
      {fault}
    </p>
  );
  if (field.kind.type === "shop") {
    const items = shop.value?.[field.kind.list] ?? [];
    // A link may name one that is listed no more; the daemon says so.
    const all = text === "" || items.some((item) => item.id === text) ? items : [...items, { id: text, name: text }];
    if (all.length === 0) return null;
    return (
      <div class="field">
        <label for={id}>
          {field.label}
          {optional}
        </label>
        <select {...common} value={text} onChange={(event) => onText(event.currentTarget.value)}>
          <option value="">{t.bench.choice}</option>
          {all.map((item) => (
            <option key={item.id} value={item.id}>
              {item.name}
            </option>
          ))}
        </select>
      </div>
    );
  }
  if (field.kind.type === "choices") {
    return <Choices {...{ field, text, onText, id }} options={field.kind.options} />;
  }
  return (
    <div class={field.kind.type === "log" || field.kind.type === "corners" || field.kind.type === "series" ? "field wide" : "field"}>
      <label for={id}>
        {field.label}
        {optional}
      </label>
      {field.kind.type === "choice" ? (
        <select {...common} value={text} onChange={(event) => onText(event.currentTarget.value)}>
          <option value="">{t.bench.choice}</option>
          {Object.entries(field.kind.options).map(([value, name]) => (
            <option key={value} value={value}>
              {name}
            </option>
          ))}
        </select>
      ) : field.kind.type === "time" ? (
        <input type="datetime-local" {...common} value={text} onInput={(event) => onText(event.currentTarget.value)} />
      ) : field.kind.type === "log" ? (
        <Log {...{ field, text, onText }} common={common} />
      ) : (
        <input
          type="text"
          autocomplete="off"
          autocapitalize="none"
          spellcheck={false}
          required={field.required === true}
          placeholder={field.example ?? ""}
          {...common}
          value={text}
          onInput={(event) => onText(event.currentTarget.value)}
        />
      )}
      {told}
    </div>
  );
}

/** Options of which any number holds. */
function Choices(props: { field: Field; options: Record<number, string>; text: string; onText: (text: string) => void; id: string }) {
  const { field, options, text, onText, id } = props;
  const chosen = new Set(text === "" ? [] : text.split(" "));
  const toggle = (value: string, on: boolean) => {
    const next = new Set(chosen);
    if (on) next.add(value);
    else next.delete(value);
    onText([...next].sort((a, b) => Number(a) - Number(b)).join(" "));
  };
  return (
    <fieldset class="field wide several" id={id} tabIndex={-1}>
      <legend>
        {field.label}
        <span class="optional"> {t.bench.optional}</span>
      </legend>
      {Object.entries(options).map(([value, name]) => (
        <div key={value} class="field check">
          <input
            type="checkbox"
            id={`${id}-${value}`}
            checked={chosen.has(value)}
            onChange={(event) => toggle(value, event.currentTarget.checked)}
          />
          <label for={`${id}-${value}`}>{name}</label>
        </div>
      ))}
    </fieldset>
  );
}

/** Lines, typed, pasted or from a file, which is read here and sent nowhere. */
function Log(props: { field: Field; text: string; onText: (text: string) => void; common: { id: string } }) {
  const { field, text, onText, common } = props;
  const take = async (file: File | undefined) => {
    if (file !== undefined) onText(await file.text());
  };
  return (
    <>
      <textarea
        rows={4}
        spellcheck={false}
        placeholder={field.example ?? ""}
        {...common}
        value={text}
        onInput={(event) => onText(event.currentTarget.value)}
      />
      <input
        class="hidden file-input"
        type="file"
        accept=".csv,text/csv,text/plain"
        id={`${common.id}-file`}
        onChange={(event) => void take(event.currentTarget.files?.[0])}
      />
      <label class="file" for={`${common.id}-file`}>
        {t.bench.file}
      </label>
    </>
  );
}

/** Rows of inputs, to be added and taken away. */
export function GroupView(props: { group: Group; typed: Typed; faults: Faults; onTyped: (typed: Typed) => void }) {
  const { group, typed, faults, onTyped } = props;
  const rows = typed.rows[group.id] ?? [];
  const setRows = (changed: readonly Readonly<Record<string, string>>[]) =>
    onTyped({ ...typed, rows: { ...typed.rows, [group.id]: changed } });
  return (
    <fieldset class="group">
      <legend class={group.label === group.more ? "hidden" : undefined}>{group.label}</legend>
      {rows.map((row, index) => (
        <div key={index} class="row">
          <div class="fields">
            {group.fields.map((field) => (
              <FieldView
                key={field.id}
                field={field}
                id={inputId(field.id, group.id, index)}
                text={row[field.id] ?? ""}
                faults={faults}
                onText={(text) => setRows(rows.map((each, at) => (at === index ? { ...each, [field.id]: text } : each)))}
              />
            ))}
          </div>
          {rows.length > group.least && (
            <button
              type="button"
              class="remove"
              aria-label={t.bench.remove(group.one, index + 1)}
              onClick={() => setRows(rows.filter((_, at) => at !== index))}
            >
              ×
            </button>
          )}
        </div>
      ))}
      <button
        type="button"
        class="add"
        onClick={() => setRows([...rows, Object.fromEntries(group.fields.map(({ id }) => [id, ""]))])}
      >
        {t.bench.add(group.one)}
      </button>
    </fieldset>
  );
}
