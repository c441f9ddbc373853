/** An invented shop: a dozen cars at every stage of the work, and as many more as asked for. */
import {
  Finish,
  type Lamella,
  PanelCondition,
  PassOutcome,
  type RecordSchema,
  type MessageInitShape,
  Stage,
  Substrate,
  timestampFromDate,
} from "@lamella/client";

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
type Entry = NonNullable<MessageInitShape<typeof RecordSchema>["entry"]>;

const PANELS = [
  { panelId: "hood", displayName: "Hood", substrate: Substrate.STEEL, finish: Finish.CLEAR_COAT, areaM2: 1.6, condition: PanelCondition.MODERATE },
  { panelId: "roof", displayName: "Roof", substrate: Substrate.COMPOSITE, finish: Finish.CLEAR_COAT, areaM2: 1.9, condition: PanelCondition.LIGHT },
  { panelId: "left-door", displayName: "Left door", substrate: Substrate.ALUMINIUM, finish: Finish.CLEAR_COAT, areaM2: 1.1, condition: PanelCondition.LIGHT },
  { panelId: "right-door", displayName: "Right door", substrate: Substrate.ALUMINIUM, finish: Finish.CLEAR_COAT, areaM2: 1.1, condition: PanelCondition.LIGHT },
  { panelId: "front-bumper", displayName: "Front bumper", substrate: Substrate.PLASTIC, finish: Finish.CLEAR_COAT, areaM2: 1.3, condition: PanelCondition.GOOD },
];

/** A car of the shop: how far it has come, and what is promised, hours from now. */
interface Car {
  readonly id: string;
  readonly name: string;
  readonly color: string;
  readonly stage: Stage;
  readonly promise?: number;
  /** Its coat was laid so many hours ago. */
  readonly coated?: number;
  readonly partOff?: boolean;
}

const CARS: readonly Car[] = [
  { id: "white-van", name: "White van", color: "white", stage: Stage.BOOKED, promise: 76 },
  { id: "grey-estate", name: "Grey estate", color: "grey", stage: Stage.BOOKED, promise: 53 },
  { id: "orange-camper", name: "Orange camper", color: "orange", stage: Stage.BOOKED },
  { id: "red-hatchback", name: "Red hatchback", color: "red", stage: Stage.RECEIVED, promise: 30 },
  { id: "green-roadster", name: "Green roadster", color: "green", stage: Stage.ASSESSED, promise: 27.5 },
  { id: "brown-pickup", name: "Brown pickup", color: "brown", stage: Stage.APPROVED, promise: 8.2 },
  { id: "black-saloon", name: "Black saloon", color: "black", stage: Stage.IN_WORK, promise: -0.6, partOff: true },
  { id: "yellow-city-car", name: "Yellow city car", color: "yellow", stage: Stage.IN_WORK, promise: 1.4 },
  { id: "blue-estate", name: "Blue estate", color: "dark blue", stage: Stage.CURING, promise: 9.5, coated: 5.1, partOff: true },
  { id: "pearl-coupe", name: "Pearl coupé", color: "pearl", stage: Stage.CURING, promise: 26, coated: 2 },
  { id: "silver-saloon", name: "Silver saloon", color: "silver", stage: Stage.READY, promise: 1.1, coated: 30 },
];

/** Fills an empty daemon that has a price rule. */
export async function seedShop(api: Lamella, now: number): Promise<void> {
  for (const car of CARS) await seedCar(api, car, now);
}

/** So many more jobs that are booked or received, each with a promise. */
export async function seedMany(api: Lamella, count: number, now: number): Promise<void> {
  const colors = ["Blue", "White", "Black", "Silver", "Red", "Grey", "Green", "Brown"];
  const shapes = ["estate", "saloon", "van", "hatchback", "coupé", "pickup", "roadster"];
  const one = async (index: number) => {
    const name = `jobs/many-${index}`;
    await api.job.createJob({
      jobId: `many-${index}`,
      job: {
        displayName: `${colors[index % colors.length]} ${shapes[index % shapes.length]} ${index + 1}`,
        promiseTime: timestampFromDate(new Date(now + (60 + index) * HOUR)),
        ...(index % 3 === 0 && { vehicle: "vehicles/white-van" }),
      },
    });
    if (index % 3 === 0) await api.job.advanceStage({ name });
  };
  const indexes = Array.from({ length: count }, (_, index) => index);
  while (indexes.length > 0) await Promise.all(indexes.splice(0, 16).map(one));
}

async function seedCar(api: Lamella, car: Car, now: number): Promise<void> {
  const name = `jobs/${car.id}`;
  await api.vehicle.createVehicle({ vehicleId: car.id, vehicle: { displayName: car.name, color: car.color, panels: PANELS } });
  await api.job.createJob({
    jobId: car.id,
    job: {
      displayName: car.name,
      vehicle: `vehicles/${car.id}`,
      services: [
        { code: "correct", panels: ["hood", "roof"] },
        { code: "coat", panels: ["hood", "roof"] },
        { code: "film", panels: ["front-bumper"] },
      ],
      arrivalCondition: "Wash swirls all over, one deeper scratch on the hood.",
      wishes: "Hazy roof to be cleared, front protected.",
      ...(car.promise !== undefined && { promiseTime: timestampFromDate(new Date(now + car.promise * HOUR)) }),
    },
  });
  // Work is told in order of time; a coat is the last of it.
  let at = now - (car.coated ?? 1) * HOUR - 4 * HOUR;
  const add = async (entry: Entry, moment = (at += 12 * MINUTE)) => {
    await api.job.appendRecord({ parent: name, record: { recordTime: timestampFromDate(new Date(moment)), entry } });
  };
  const move = (toStage: Stage) => api.job.advanceStage({ name, toStage });
  const past = (stage: Stage) => car.stage >= stage;

  if (past(Stage.RECEIVED)) await move(Stage.RECEIVED);
  if (past(Stage.ASSESSED)) {
    await readings(add, [
      ["hood", [128, 131, 127, 132, 130]],
      ["left-door", [118, 121, 119, 120, 118]],
      ["right-door", [122, 120, 119, 123, 121]],
    ]);
    await move(Stage.ASSESSED);
  }
  if (past(Stage.APPROVED)) {
    const quote = await api.quote.createQuote({ parent: name }, { timeoutMs: 60_000 });
    await api.quote.acceptQuote({ name: quote.name, approvedBy: "the owner", note: "by phone" });
    await move(Stage.APPROVED);
  }
  if (past(Stage.IN_WORK)) {
    await move(Stage.IN_WORK);
    if (car.partOff) await add({ case: "partOff", value: { part: "front badge", fasteners: "2 push nuts", keptAt: "tray 3" } });
    await correct(add);
  }
  if (past(Stage.CURING)) {
    await finish(add, now - (car.coated ?? 1) * HOUR);
    await move(Stage.CURING);
  }
  if (past(Stage.READY)) await move(Stage.READY);
}

type Add = (entry: Entry, moment?: number) => Promise<void>;

async function readings(add: Add, panels: readonly (readonly [string, readonly number[]])[]): Promise<void> {
  for (const [panel, readingsUm] of panels) {
    await add({ case: "gaugeReadings", value: { panel, spot: "middle", readingsUm: [...readingsUm], gauge: "combined gauge" } });
  }
}

async function correct(add: Add): Promise<void> {
  await add({ case: "mix", value: { product: "water-based pre-wash concentrate", concentrateMl: 263.3, diluentMl: 736.7, strengthPercent: 26.3 } });
  const passes: readonly (readonly [string, number, number, number, number | undefined, PassOutcome])[] = [
    ["hood", 2, 30, 26.4, 0.4, PassOutcome.UNCHANGED],
    ["hood", 3, 30, 29.8, 0.6, PassOutcome.IMPROVED],
    ["hood", 3, 45, 33.1, 0.9, PassOutcome.CLEARED],
    ["roof", 2, 30, 27.0, undefined, PassOutcome.UNCHANGED],
    ["roof", 3, 30, 30.7, undefined, PassOutcome.IMPROVED],
    ["roof", 3, 45, 34.4, undefined, PassOutcome.CLEARED],
  ];
  for (const [panel, speed, seconds, panelC, removalUm, outcome] of passes) {
    await add({
      case: "pass",
      value: {
        panel,
        outcome,
        panelC,
        ...(removalUm !== undefined && { removalUm }),
        setup: {
          machine: { name: "random-orbital machine", rank: 1 },
          pad: { name: "soft finishing pad", rank: 1 },
          liquid: { name: "finishing polish", rank: 1 },
          speed,
          seconds,
          pressureKpa: 2,
        },
      },
    });
  }
}

async function finish(add: Add, coatedAt: number): Promise<void> {
  await readings(add, [["hood", [126, 129, 125, 130, 128]]]);
  await add({ case: "mix", value: { product: "alcohol wipe-down", concentrateMl: 384.6, diluentMl: 615.4, strengthPercent: 35, panels: ["hood", "roof"] } });
  await add({
    case: "filmPiece",
    value: { panel: "front-bumper", film: "clear gloss film", roll: "wide", lot: "F-17", widthMm: 500, lengthMm: 1730, settleHours: 12 },
  });
  const air = { airC: 20, relativeHumidityPercent: 62 };
  await add({ case: "bayAir", value: { air, panelC: 18 } });
  for (const layer of [1, 2]) {
    await add(
      {
        case: "coatLayer",
        value: {
          panels: ["hood", "roof"],
          layer,
          lot: "C-204",
          panelC: 18,
          air,
          coating: {
            product: "two-year coating",
            temperatureResponse: { case: "activationEnergyKjPerMol", value: 50 },
            wipeEarliestMinutes: 2,
            wipeLatestMinutes: 6,
            recoatOpenHours: 1,
            recoatCloseHours: 6,
            dryHours: 10,
            washHours: 168,
            fullCureHours: 336,
          },
        },
      },
      coatedAt + (layer - 2) * 2 * HOUR,
    );
  }
  await add(
    {
      case: "labour",
      value: {
        worker: "Sam",
        activity: "correction and coating",
        fromTime: timestampFromDate(new Date(coatedAt - 7 * HOUR)),
        toTime: timestampFromDate(new Date(coatedAt)),
      },
    },
    coatedAt,
  );
}
