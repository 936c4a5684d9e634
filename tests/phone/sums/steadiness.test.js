/** The phone's steadiness against the server's answers; one file of vectors serves both. */
import {
  classify,
  STUDENT_T_95,
  STUDENT_T_95_LARGE,
} from "../../../static/field/sums/steadiness.js";
import { runVectors } from "../vectors.js";

runVectors("steadiness_vectors.json", {
  student_t_95: () => ({ points: STUDENT_T_95, large: STUDENT_T_95_LARGE }),
  classify: ({ times_s, heads_m, ...known }) => classify(times_s, heads_m, known),
});
