package lot

import (
	"strings"

	"offbeat/compare"
	"offbeat/compare/reconcile"
)

// Apart is what sets a board that stands out apart from the others.
type Apart struct {
	Causes []compare.Cause
	likely string // in a sentence
}

// Finding is the board's finding: its verdict, and what sets it apart in place of the cause that its own times name.
func (a *Apart) Finding(own string, v *compare.Verdict) string {
	verdict := reconcile.VerdictText(v)
	before, _, _ := strings.Cut(own, verdict)
	return strings.TrimSpace(before + verdict + " " + a.likely)
}

// apartWords say against what such a board is judged: the others' parts, not the design's.
var apartWords = strings.NewReplacer("nothing wrong, every part in tolerance", "like the other boards", "out of tolerance", "unlike the others'", " nominal ", " their ")

// AgainstOthers puts the words of a cause so.
func AgainstOthers(text string) string { return apartWords.Replace(text) }
