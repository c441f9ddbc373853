/** Inputs of a form. */
import { t } from "../messages/index.js";
import { type Faults, type Field, type Group, inputId, type Typed } from "./form.js";

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
  return (
    <div class="field">
      <label for={id}>
        {field.label}
        {field.required !== true && <span class="optional"> {t.bench.optional}</span>}
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
      {fault !== undefined && (
        <p class="fault" id={`${id}-fault`}>
          {fault}
        </p>
      )}
    </div>
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
      <legend>{group.label}</legend>
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
