/** The page shown where a page of the office cannot be reached. */
import { byId } from "../../shared/dom.js";
import { startPage } from "./start.js";

byId("again").addEventListener("click", () => location.reload());
startPage(() => {}, { needsPack: false });
