/** The page shown where a page of the office cannot be reached. */
import { byId } from "./dom.js";
import { startPage } from "./shell.js";

byId("again").addEventListener("click", () => location.reload());
startPage(() => {}, { needsPack: false });
