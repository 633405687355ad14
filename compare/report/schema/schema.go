// Package schema says what the program's JSON holds, as JSON Schema (draft 2020-12), read off the types that are printed: a
// definition for the document of each command.
package schema

import (
	"encoding/json"
	"maps"
	"reflect"
	"slices"
	"strings"

	"github.com/invopop/jsonschema"

	"offbeat/compare"
	"offbeat/compare/ledger"
	"offbeat/compare/lot"
	"offbeat/compare/report"
)

// lotDocument is what report.LotStream writes.
type lotDocument struct {
	Boards []report.LotBoard `json:"boards"`
	lot.Report
}

// ledgerDocument is what report.LedgerStream writes.
type ledgerDocument struct {
	Schema   int            `json:"schema"`
	Visits   []ledger.Visit `json:"visits"`
	Drift    []ledger.Drift `json:"drift"`
	Warnings []string       `json:"warnings"`
}

// documents lists what each command prints with --json.
var documents = []struct {
	name string
	of   any
}{
	{"measure", report.Measurement{}},
	{"reconcile", compare.Finding{}},
	{"predict", report.Prediction{}},
	{"retune", report.Retuning{}},
	{"lot", lotDocument{}},
	{"ledger", ledgerDocument{}},
	{"ledger_show", report.LedgerDetail{}},
	{"ledger_odds", ledger.Learned{}},
	{"listen", report.HeardMeasurement{}},
	{"listen_design", report.HeardFinding{}},
}

// JSON is the schema: under $defs one definition a document, and what they share. With open, keys that it does not name may
// stand beside those that it does, as later versions add some.
func JSON(open bool) ([]byte, error) {
	r := &jsonschema.Reflector{AllowAdditionalProperties: open, Anonymous: true, ExpandedStruct: true, Namer: named}
	defs := jsonschema.Definitions{}
	var any []*jsonschema.Schema
	for _, d := range documents {
		s := r.Reflect(d.of)
		s.Version = ""
		maps.Copy(defs, s.Definitions)
		s.Definitions = nil
		defs[d.name] = s
		any = append(any, &jsonschema.Schema{Ref: "#/$defs/" + d.name})
	}
	unsupported(defs["comparePart"])
	return json.MarshalIndent(&jsonschema.Schema{
		Version:     jsonschema.Version,
		Title:       "What offbeat prints with --json, schema 1",
		Description: "SI units: second, hertz, ohm, farad, volt. One definition for each command's document; keys may be added, none is renamed.",
		AnyOf:       any,
		Definitions: defs,
	}, "", "  ")
}

// unsupported lets a part's row say that nothing supports an estimate, in place of one (compare.Part writes it so).
func unsupported(part *jsonschema.Schema) {
	if part == nil {
		return
	}
	part.Properties.Set("supported", &jsonschema.Schema{Type: "boolean", Description: "false: nothing that was measured tells this part's value; value, interval95 and probability_out_of_tolerance are left out"})
	part.Required = slices.DeleteFunc(part.Required, func(key string) bool {
		return slices.Contains([]string{"value", "interval95", "probability_out_of_tolerance"}, key)
	})
}

// named is a definition's name: the type's own, with those of its parameters.
func named(t reflect.Type) string {
	name := t.Name()
	if name == "" {
		return "" // written out where it stands
	}
	if at := strings.IndexByte(name, '['); at >= 0 {
		of := name[at+1 : len(name)-1]
		name = name[:at] + "Of" + of[strings.LastIndexAny(of, "./")+1:]
	}
	pkg := t.PkgPath()
	pkg = pkg[strings.LastIndexByte(pkg, '/')+1:]
	return pkg + strings.ToUpper(name[:1]) + name[1:]
}
