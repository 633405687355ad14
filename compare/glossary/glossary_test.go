package glossary

import (
	"strings"
	"testing"

	"offbeat/compare/cause"
)

// Every name and every other word means one thing only, and every pointer leads somewhere.
func TestTermsArePlain(t *testing.T) {
	seen := map[string]string{}
	for _, s := range Sections {
		for _, term := range s.Terms {
			for _, n := range term.names() {
				k := key(n)
				if other, ok := seen[k]; ok {
					t.Errorf("%q is explained under %q and %q", n, other, term.Name)
				}
				seen[k] = term.Name
			}
			if term.Text == "" || !strings.HasSuffix(term.Text, ".") {
				t.Errorf("%q: its text is no sentence: %q", term.Name, term.Text)
			}
			if len(term.Text) > 500 {
				t.Errorf("%q takes %d characters; 500 are enough", term.Name, len(term.Text))
			}
			for _, see := range term.See {
				if target, ok := Lookup(see); !ok || target.Name != see {
					t.Errorf("%q points to %q, which is no term's name", term.Name, see)
				}
			}
		}
	}
}

// The words that the design promises are all there, however they are typed.
func TestWordsOfTheTrade(t *testing.T) {
	for word, name := range map[string]string{
		"State Level": "state level", "reference level": "reference level", "transitions": "transition", "pulse duration": "pulse duration", "duty-factor": "duty factor", "jitter": "jitter",
		"standard uncertainty": "standard uncertainty", "coverage factor": "coverage factor", "TYPE A": "type A", "type-b": "type B", "correction": "correction", "resolution": "resolution",
		"E24": "preferred value", "IEC 60062": "tolerance code", "control charts": "control chart", "AQL": "acceptance quality limit", "decision rule": "decision rule", "guard band": "guard band",
		"duty  cycle": "duty factor", "odds": "prior odds", "Cpk": "capability",
	} {
		got, ok := Lookup(word)
		if !ok || got.Name != name {
			t.Errorf("Lookup(%q) = %q, %v, want %q", word, got.Name, ok, name)
		}
	}
	if _, ok := Lookup("flux capacitor"); ok {
		t.Error("a word that is not there was found")
	}
}

// No cause that the odds know is left without a word.
func TestEveryCauseIsExplained(t *testing.T) {
	for _, c := range cause.All() {
		n := c.Key
		term, ok := Lookup(n)
		if !ok {
			t.Errorf("cause %q is not explained", n)
			continue
		}
		found := false
		for _, c := range causes {
			found = found || c.Name == term.Name
		}
		if !found {
			t.Errorf("%q leads to %q, which is no cause", n, term.Name)
		}
	}
}
