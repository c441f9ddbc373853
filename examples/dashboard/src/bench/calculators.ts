/** Every calculator of the bench, in the order in which a job needs them. */
import { advise } from "./advise.js";
import type { Calculator } from "./answer.js";
import { blend } from "./blend.js";
import { cure } from "./cure.js";
import { dew } from "./dew.js";
import { dilute } from "./dilute.js";
import { film } from "./film.js";
import { heat } from "./heat.js";
import { paint } from "./paint.js";
import { removal } from "./removal.js";

/** One form each; every RPC of CalculatorService has one, which a test holds. */
export const CALCULATORS: readonly Calculator[] = [dilute, paint, advise, film, cure, dew, heat, removal, blend];
