package cause

import (
	"math"
	"slices"
	"testing"

	"offbeat/fit"
)

// Every look has two outcomes, words and a likelihood that is neither 0 nor 1, and some cause shows in it; every row of
// every cause is of a look that there is, with its reason.
func TestEveryLook(t *testing.T) {
	shown := map[string]bool{}
	for _, c := range All() {
		for _, s := range c.Shows {
			shown[s.Look] = true
			if LookNamed(s.Look) == nil || !(s.P > 0 && s.P < 1) || s.Why == "" {
				t.Errorf("%s: row %+v", c.Name, s)
			}
		}
	}
	for i := range Looks {
		l := &Looks[i]
		if !shown[l.Name] || l.Do == "" || l.Found == "" || l.Sound == "" || l.Found == l.Sound || l.Minutes <= 0 || !(l.Careless > 0 && l.Careless < 0.5) {
			t.Errorf("look %+v", *l)
		}
	}
}

// What was seen multiplies a case's odds by how likely that is under its cause, by hand: a wrong marking of R1 under another
// value of R1 (0.95, or 0.01 by carelessness) and under all else that does not exchange it (0.01).
func TestALookWeighs(t *testing.T) {
	d := design("astable")
	plain := board(t, d).Cases()
	d.Looks = []fit.Look{{Name: "marking", Part: "R1", Found: true}, {Name: "control pin"}}
	for i, k := range board(t, d).Cases() {
		wrong, free := 0.01, 0.95
		switch {
		case k.Cause == "other value" && k.Parts[0] == "R1":
			wrong = 0.01 + 0.99*0.95
		case k.Cause == "exchanged" && slices.Contains(k.Parts, "R1"):
			wrong = 0.01 + 0.99*0.97
		case k.Cause == "thresholds":
			free = 1 - (0.05 + 0.95*0.6)
		}
		if got, want := k.LogFactor-plain[i].LogFactor, math.Log(wrong*free); !(math.Abs(got-want) <= 1e-12) {
			t.Errorf("%s %v: %v, want %v", k.Cause, k.Parts, got, want)
		}
	}
}
