/** The phone's level book against worked runs and against the server, by shared vectors. */
import {
  crestResults,
  resultsOfRun,
  twoPeg,
} from "../../../../static/field/sums/levelling/crest.js";
import { pointLevels, reduceRun } from "../../../../static/field/sums/levelling/reduce.js";
import { misclosureLimitMm } from "../../../../static/field/sums/levelling/sharing.js";
import { runVectors } from "../../vectors.js";

runVectors("levels_vectors.json", {
  reduce_run: reduceRun,
  point_levels: ({ run }) => pointLevels(reduceRun(run)),
  results_of_run: ({ run, ...rest }) => resultsOfRun({ run: reduceRun(run), ...rest }),
  crest_results: crestResults,
  two_peg: twoPeg,
  misclosure_limit_mm: misclosureLimitMm,
});
