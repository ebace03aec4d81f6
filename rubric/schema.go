package rubric

import _ "embed"

// Schema is the JSON Schema (draft 2020-12) of rubric and overlay files, for
// editors. It knows the form alone: names given twice, references to nothing
// and impossible ranges are found by the reader.
//
//go:embed rubric.schema.json
var Schema []byte
