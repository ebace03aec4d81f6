package report

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"io"
	"reflect"

	"markaround/rubric"
)

// Schema is the JSON Schema (draft 2020-12) of what JSON writes.
//
//go:embed sheet.schema.json
var Schema []byte

// JSON writes the sheet as one indented object that Schema describes. Lists
// are never null.
func JSON(w io.Writer, s *rubric.Sheet) error { return writeJSON(w, s, "  ") }

// JSONLine writes the sheet as one object on one line, for files that hold
// several sheets.
func JSONLine(w io.Writer, s *rubric.Sheet) error { return writeJSON(w, s, "") }

func writeJSON(w io.Writer, s *rubric.Sheet, indent string) error {
	asIs := func(text string) string { return text }
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", indent)
	if err := enc.Encode(deep(reflect.ValueOf(s).Elem(), asIs).Interface()); err != nil {
		return fmt.Errorf("attempt %s: cannot be written as JSON: %w", s.Attempt, err)
	}
	return nil
}

// deep is a deep copy of v with empty lists for nil ones and every string
// passed through text.
func deep(v reflect.Value, text func(string) string) reflect.Value {
	switch v.Kind() {
	case reflect.Struct:
		c := reflect.New(v.Type()).Elem()
		for i := range v.NumField() {
			c.Field(i).Set(deep(v.Field(i), text))
		}
		return c
	case reflect.Slice:
		c := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		for i := range v.Len() {
			c.Index(i).Set(deep(v.Index(i), text))
		}
		return c
	case reflect.Pointer:
		if v.IsNil() {
			return v
		}
		c := reflect.New(v.Type().Elem())
		c.Elem().Set(deep(v.Elem(), text))
		return c
	case reflect.String:
		return reflect.ValueOf(text(v.String())).Convert(v.Type())
	}
	return v
}
