package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"offbeat/compare/report/schema"
)

// TestJSONKeepsItsSchema validates what each command prints with --json, golden files among it, by a library, against the
// schema of this version: every key is named in it, every required one is there.
func TestJSONKeepsItsSchema(t *testing.T) {
	golden := filepath.Join(here, "testdata", "golden")
	strict, err := schema.JSON(false)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(strict))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("urn:offbeat:json", doc); err != nil {
		t.Fatal(err)
	}
	valid := func(name, what, text string) {
		t.Helper()
		s, err := c.Compile("urn:offbeat:json#/$defs/" + name)
		if err != nil {
			t.Fatal(err)
		}
		v, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
		if err == nil {
			err = s.Validate(v)
		}
		if err != nil {
			t.Errorf("%s: %v", what, err)
		}
	}
	files, err := filepath.Glob(filepath.Join(golden, "*json*.stdout"))
	if err != nil || len(files) < 4 {
		t.Fatalf("golden files: %v, %v", files, err)
	}
	for _, f := range files {
		if strings.HasPrefix(filepath.Base(f), ".got-") {
			continue // what a failed comparison left
		}
		name, _, _ := strings.Cut(filepath.Base(f), "-")
		if name == "demo" || name == "latch" {
			name = "reconcile"
		}
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		valid(name, f, string(b))
	}
	bench(t)
	for _, w := range []struct{ name, line string }{
		{"measure", "measure lamp-2.csv.gz --json"},
		{"reconcile", "reconcile lamp.toml --with C1||10M±2% --with C1||12p±20% lamp-5-probed.csv.gz --channel out=Output --channel cap=Capacitor --json"},
		{"reconcile", "reconcile breakwater.toml breakwater.csv --json"},
		{"predict", "predict lamp.toml --json"},
		{"retune", "retune new-lamp.toml lamp-3.csv --target duty_factor=54.5%:4% --json"},
		{"lot", "lot new-lamp.toml lot/manifest.csv --lot-size 150 --json --ledger kept.db"},
		{"ledger", "ledger kept.db --json"},
		{"ledger_odds", "ledger odds kept.db --design lamp.toml --json"},
		{"listen", "listen - --json"},
		{"listen_design", "listen - --design lamp.toml --json"},
	} {
		stdout, stderr, _ := run(t, "0,0\n1000,1\n5000,0\n8000,1\n12000,0\n15000,1\n19000,0\n22000,1\n26000,0\n", strings.Fields(w.line)...)
		if stdout == "" {
			t.Errorf("offbeat %s: %s", w.line, stderr)
			continue
		}
		valid(w.name, w.line, stdout)
	}
	stdout, stderr, _ := run(t, "", "ledger", "show", "kept.db", "lamp 3", "--json")
	if stdout == "" {
		t.Error(stderr)
	}
	valid("ledger_show", "ledger show", stdout)
}

// TestHelpPrintsTheSchema: offbeat help json is JSON and nothing else.
func TestHelpPrintsTheSchema(t *testing.T) {
	stdout, stderr, status := run(t, "", "help", "json")
	if v, err := jsonschema.UnmarshalJSON(strings.NewReader(stdout)); err != nil || status != 0 || stderr != "" || v.(map[string]any)["$schema"] != "https://json-schema.org/draft/2020-12/schema" {
		t.Errorf("status %d, %v, %s\n%.300s", status, err, stderr, stdout)
	}
}
