// Read WaterML 2.0 by the mapping that ogc-schemas made of the OGC schemas, and write it again.
// Prints as JSON what was read, and how many elements and attributes came back.
const { readFileSync } = require("node:fs");
const { Jsonix } = require("jsonix");
const schemas = { ...require("w3c-schemas"), ...require("ogc-schemas") };

const names = [
  "XLink_1_0",
  "SMIL_2_0",
  "SMIL_2_0_Language",
  "GML_3_2_1",
  "ISO19139_GMD_20070417",
  "ISO19139_GCO_20070417",
  "ISO19139_GSS_20070417",
  "ISO19139_GTS_20070417",
  "ISO19139_GSR_20070417",
  "Filter_2_0",
  "OWS_1_1_0",
  "OM_2_0",
  "Sampling_2_0",
  "SamplingSpatial_2_0",
  "SWE_2_0",
  "WaterML_2_0",
];
const context = new Jsonix.Context(
  names.filter((name) => schemas[name]).map((name) => schemas[name]),
);
const source = readFileSync(process.argv[2], "utf8");
const read = context.createUnmarshaller().unmarshalString(source);
const again = context.createMarshaller().marshalString(read);
const elements = (text) => (text.match(/<[A-Za-z][^>]*>/g) ?? []).length;
const members = read.value.observationMember ?? [];
const told = members.map(({ omObservation }) => {
  const series = omObservation.result.content
    ? omObservation.result.content.find((one) => one.name).value
    : omObservation.result.any?.value ?? omObservation.result.value;
  return {
    process: omObservation.procedure,
    points: (series.point ?? []).map(({ measurementTVP }) => ({
      value: measurementTVP.value,
      metadata: measurementTVP.metadata,
      time: measurementTVP.time,
    })),
  };
});
process.stdout.write(
  JSON.stringify({ root: read.name.localPart, before: elements(source), after: elements(again), told }),
);
