// Compiles the description's schema in Ajv's strict mode, its own keywords declared, and holds documents against it.
// node strict.cjs SCHEMAS_FOLDER DOCUMENT... -> one line a document: "valid" or "invalid".
const { readFileSync } = require("fs");
const { join } = require("path");
const Ajv = require("ajv/dist/2020").default;

const [folder, ...documents] = process.argv.slice(2);
const read = (path) => JSON.parse(readFileSync(path, "utf-8"));
const ajv = new Ajv({ strict: true, allowUnionTypes: false, formats: { date: true } });
for (const keyword of Object.keys(read(join(folder, "keywords.schema.json")).properties)) ajv.addKeyword({ keyword });
const validate = ajv.compile(read(join(folder, "description.schema.json")));
for (const document of documents) console.log(validate(read(document)) ? "valid" : "invalid");
