/** Cure and dew point. */
import { type Case, written } from "./case.js";

/** A day in the bay: logged up to noon, forecast from then on. */
const LOG = `time,temperature_f,rh
2026-03-02T10:00:00+01:00,64.4,55
2026-03-02T11:00:00+01:00,66.2,54
2026-03-02T12:00:00+01:00,68,52
`;
const FORECAST = `time,temperature,rh (%)
2026-03-02T11:30:00+01:00,19C,50
2026-03-02T18:00:00+01:00,17C,58
2026-03-03T06:00:00+01:00,12.5C,66
2026-03-03T18:00:00+01:00,17C,58
2026-03-05T18:00:00+01:00,16C,60
`;

export const COAT: readonly Case[] = [
  {
    id: "cure",
    steps: [
      ["Coating", "two-year coating"],
      ["Panel temperature", "65F"],
      ["Dry after", "12h"],
      ["Wash from", "7d"],
      ["Activation energy, kJ/mol", "60"],
      ["Other times of the data sheet", "open"],
      ["Recoat from", "1h"],
      ["Recoat by", "24h"],
      ["Bay air", "open"],
      ["Bay air", "20C"],
      ["Relative humidity", "50%"],
    ],
    command: ["cure", "--product", "two-year coating", "--panel", "65F", "--dry", "12h", "--wash", "7d", "--ea", "60", "--recoat", "1h..24h", "--air", "20C", "--rh", "50%"],
    facts: ["milestones.1.afterHours", "milestones.3.afterHours", "rate", "dewPointC", "dewMarginK"],
  },
  {
    id: "cure",
    steps: [
      ["Coating", "two-year coating"],
      ["Dry after", "12h"],
      ["Wash from", "7d"],
      ["Activation energy, kJ/mol", "60"],
      ["Applied at", "2026-03-02T11:00"],
      ["Logged and forecast days", "open"],
      ["Logged: time, temperature, rh", LOG],
      ["Forecast: time, temperature, rh", FORECAST],
      ["Lamps, and how sure it is", "open"],
      ["Panel known to within", "3F"],
      ["Rate known to within", "20%"],
      ["Add lamp", "press"],
      ["On, after application", "30min"],
      ["Off, after application", "1h30min"],
      ["Panel under it", "140F"],
      ["A promise to keep", "open"],
      ["Promised for", "2026-03-03T16:00"],
      ["Released when", "dry"],
    ],
    command: [
      ...["cure", "--product", "two-year coating", "--dry", "12h", "--wash", "7d", "--ea", "60", "--at", "2026-03-02T11:00:00+01:00"],
      ...["--log", { file: LOG }, "--forecast", { file: FORECAST }, "--lamp", "30min..1h30min@140F"],
      ...["--panel-within", "3F", "--rate-within", "20%", "--release-by", "2026-03-03T16:00:00+01:00", "--release", "dry"],
    ],
    facts: ["milestones.0.afterHours", "milestones.1.afterHours", "rate", "meanKineticC"],
    shown: (told: { latestStartTime: string; milestones: { earliestHours: number; latestHours: number }[] }) => [
      `Start by ${new Intl.DateTimeFormat("en-GB", { dateStyle: "medium", timeStyle: "short", timeZone: "Europe/Berlin" }).format(new Date(told.latestStartTime))}`,
      `${written((told.milestones[1]?.earliestHours ?? 0) / 24, 3)} d`,
      `${written((told.milestones[1]?.latestHours ?? 0) / 24, 2)} d`,
    ],
  },
  {
    id: "cure",
    steps: [
      ["Coating", "moisture coating"],
      ["Panel temperature", "24C"],
      ["Dry after", "3h"],
      ["How it follows temperature and moisture", "open"],
      ["Cures by moisture; times hold at humidity", "50%"],
      ["Add rate", "press"],
      ["At", "50F"],
      ["Rate", "0.5"],
      ["Add rate", "press"],
      ["At", "20C", 1],
      ["Rate", "1", 1],
      ["Add rate", "press"],
      ["At", "30C", 2],
      ["Rate", "1.8", 2],
      ["What the product allows", "open"],
      ["Coldest panel", "10C"],
      ["Hottest panel", "22C"],
      ["Most humidity", "60%"],
      ["Bay air", "open"],
      ["Bay air", "22C"],
      ["Relative humidity", "70%"],
    ],
    command: [
      ...["cure", "--product", "moisture coating", "--panel", "24C", "--dry", "3h", "--moisture-cure", "50%", "--rates", "50F=0.5,20C=1,30C=1.8"],
      ...["--min-panel", "10C", "--max-panel", "22C", "--max-rh", "60%", "--air", "22C", "--rh", "70%"],
    ],
    facts: ["milestones.0.afterHours", "rate", "dewPointC"],
  },
  {
    id: "cure",
    steps: [
      ["Or a coating of the shop’s lists", "Two-layer hard coating"],
      ["Panel temperature", "17C"],
    ],
    command: ["cure", "--coating", "hard-coating", "--panel", "17C"],
    facts: ["milestones.4.afterHours", "rate"],
  },
  {
    id: "dew",
    steps: [
      ["Air temperature", "77F"],
      ["Relative humidity", "60"],
      ["Panel temperature", "65F"],
      ["More inputs", "open"],
      ["Height above sea level", "1600ft"],
    ],
    command: ["dew", "77F", "60%", "--panel", "65F", "--altitude", "1600ft"],
    facts: ["dewPointC", "dewMarginK", "wetBulbC", "absoluteHumidityGPerM3", "pressurePa"],
  },
];
