package schema

import (
	"bytes"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// TestSchema compiles the schema by a library of its own: every reference resolves, every document is there.
func TestSchema(t *testing.T) {
	for _, open := range []bool{true, false} {
		text, err := JSON(open)
		if err != nil {
			t.Fatal(err)
		}
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		c := jsonschema.NewCompiler()
		if err := c.AddResource("urn:offbeat:json", doc); err != nil {
			t.Fatal(err)
		}
		for _, d := range documents {
			name := d.name
			s, err := c.Compile("urn:offbeat:json#/$defs/" + name)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if err := s.Validate(map[string]any{"schema": "one"}); err == nil {
				t.Errorf("%s: a document without its keys passes", name)
			}
		}
	}
}
