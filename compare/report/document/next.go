package document

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/nextreading"
)

// next says what to do next; a document about what to fit leaves that to the board's own.
func (b *Basis) next() Section {
	f := b.Finding
	s := Section{ID: "next", Heading: "Next, most told per minute first"}
	if f.Latch != nil || b.Proposals != nil || b.Brief {
		return Section{}
	}
	if len(f.Next) == 0 {
		s.Heading = "Next"
		why := "no reading of the usual ones would tell much more"
		if len(f.Causes) > 0 && f.Causes[0].Cause == cause.Nothing {
			why = "most likely nothing is wrong (probability " + quantity.Probability(f.Causes[0].Probability) + ")"
		}
		s.say(Sentence, "None needed: "+why+".")
	}
	if slices.ContainsFunc(f.Next, func(n compare.Next) bool { return n.Kind == nextreading.Repair || n.Kind == nextreading.Refit }) {
		s.Heading = "Next"
	}
	var cautions []string
	for i := range f.Next {
		n := &f.Next[i]
		full := "." // a question has its own mark
		if strings.HasSuffix(n.Reading, "?") {
			full = ""
		}
		s.add(Block{Kind: Step, Text: fmt.Sprintf("%s (%s)%s", compare.Sentence(n.Reading), cost(n), full)})
		if n.Enter != "" {
			show := Always
			if i > 0 && n.Kind != nextreading.Check {
				show = Detail
			}
			s.add(Block{Kind: Command, Text: b.ToEnter(n), Show: show})
		}
		if n.Information > 0 {
			s.add(Block{Kind: Under, Text: bits(n.Information) + " about the cause.", Show: Detail})
		}
		cautions = append(cautions, n.Caution)
		s.Records = append(s.Records, Record{Kind: "next", Name: n.Reading, Unit: "bit", Value: &n.Information, Detail: n.Caution})
	}
	s.cautions(cautions)
	return s
}

// ToEnter is the whole command that tells what a reading showed, or that does the step.
func (b *Basis) ToEnter(n *compare.Next) string {
	switch n.Kind {
	case nextreading.Refit:
		return strings.Replace(b.Command, " reconcile ", " retune ", 1)
	case nextreading.Waveform, nextreading.Check: // its capture takes the place of those there are
		return strings.TrimSpace(b.Anew + " " + n.Enter)
	}
	return strings.TrimSpace(b.Command + " " + n.Enter)
}

// cost is what a reading takes, and what share of what is open about the cause it is expected to settle; what is no reading
// tells nothing.
func cost(n *compare.Next) string {
	text := fmt.Sprintf("%.0f min", math.Ceil(n.Effort-0.1))
	switch {
	case n.Tells > 0.995:
		text += ", tells > 99 %"
	case n.Tells > 0:
		text += fmt.Sprintf(", tells %.0f %%", 100*n.Tells)
	}
	return text
}

// bits writes an information to a hundredth, or to a tenth from one bit on: it is estimated to some hundredths.
func bits(x float64) string {
	if x > 0.995 {
		return fmt.Sprintf("%.1f bit", x)
	}
	return fmt.Sprintf("%.2f bit", x)
}

// joined says how two parts stand together.
var joined = strings.NewReplacer(" + ", " in series with ", " || ", " in parallel with ")

// changeText is a proposal in words: "R2: 39k in series with 1.5k; C1: 100n".
func changeText(q *compare.Proposal) string {
	if len(q.Changes) == 0 {
		return "Leave it as it is"
	}
	var out []string
	for _, c := range q.Changes {
		out = append(out, c.Part+": "+joined.Replace(c.Fit))
	}
	return strings.Join(out, "; ")
}
