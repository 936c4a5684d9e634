/** Install sums on the phone equal the server's to 1e-9; see tests/vectors/install.py. */
import { movedMarks } from "../../../static/field/levels/marks.js";
import * as sums from "../../../static/field/sums/install.js";
import { runVectors } from "../vectors.js";

// a sum of the phone without a vector fails here; that one is another sum with one figure set
const { wetConcreteUplift, ...others } = sums;
const functions = Object.entries(others).filter(([, value]) => typeof value === "function");
runVectors("install_vectors.json", { ...Object.fromEntries(functions), movedMarks });
