package reconcile

import (
	"fmt"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/cause"
	"offbeat/compare/reconcile/question"
	"offbeat/compare/verdict"
	"offbeat/fit"
)

// Sure is the probability from which one cause is called the finding, rival the one from which another is named beside it,
// and rivals how many are (common practice).
const (
	sure   = 0.95
	rival  = 0.05
	rivals = 2
)

// answer puts the finding into the fewest sentences: the verdict with value and limits, the likeliest cause, what is not
// excluded; odd are impossible times and contradictions. The first two, with the causes in full, are the finding in one line.
// Where the capture is not of the output, what to do about that comes first. Given is what the causes rest on besides, as words before them.
func (s *solved) answer(f *compare.Finding, odd []string, given string) {
	judged, full, brief := VerdictText(&f.Verdict), s.likely(f, odd, inFull), s.likely(f, odd, briefly)
	if given != "" {
		full, brief = given+compare.Within(full), given+compare.Within(brief)
	}
	f.Finding = strings.TrimSpace(judged + " " + full)
	f.Answer = nonempty(judged, brief)
	if top := &f.Causes[0]; top.Probability >= 0.5 && cause.Of(top.Cause, top.Parts).Blind {
		f.Finding = strings.TrimSpace(full + " " + judged)
		slices.Reverse(f.Answer)
	}
	if text := notExcluded(f); text != "" && !s.result.Status.Impossible {
		f.Answer = append(f.Answer, text)
	}
	if all := s.readOut(f); len(all) > 0 {
		f.Answer = append(f.Answer, "Beside that, as read: "+strings.Join(all, "; ")+".")
	}
}

// readOut are the parts that their readings put out of tolerance and that the likeliest cause does not tell of.
func (s *solved) readOut(f *compare.Finding) (all []string) {
	top := &f.Causes[0]
	for _, q := range f.Parts {
		read := slices.ContainsFunc(s.Board.Design.Readings, func(r fit.Reading) bool { return r.Name == q.Name })
		if read && !q.Unsupported && q.OutOfTolerance >= sure && !slices.Contains(top.Parts, q.Name) && (len(top.Parts) > 0 || top.Cause != "resistors") {
			all = append(all, q.Name+" out of tolerance, "+cause.Format(q.Value, q.Unit))
		}
	}
	return all
}

// modulated says of captures whose times go to and fro what their mean is worth.
func modulated(obs []question.Observation) (all []string) {
	for _, o := range obs {
		if m := o.Measurement.Slow.Modulation; m.Amplitude > 0 && !m.Mains { // hum leaves the mean as it is
			all = append(all, "Modulated: "+m.String()+"; what disturbs the train is no part's value, and ± holds all of it.")
		}
	}
	return slices.Compact(all)
}

// VerdictText is the verdict on the quantity that decides it, with its value and limits; empty without a target.
func VerdictText(v *compare.Verdict) string {
	of := func(q compare.QuantityVerdict) string {
		t := compare.QuantityOf(q.Quantity)
		return fmt.Sprintf("%s %s, limits %s", t.Name, quantity.Uncertain(q.Value, q.Uncertainty, t.Unit), quantity.Span(q.Limits[0], q.Limits[1], t.Unit))
	}
	var all []string
	for _, q := range v.Each {
		if q.Result == v.Result {
			all = append(all, of(q))
		}
	}
	text := strings.Join(all, "; ")
	switch {
	case v.Result == verdict.Undecided && len(v.Each) > 0 && text == "":
		return "Not passed, since the output does not stay the same inside the capture; by itself each time is within its limits."
	case v.Result == verdict.Undecided && len(v.Each) == 0:
		why, _, _ := strings.Cut(v.Rule, ";")
		return "No verdict: " + why + "."
	case v.Result == verdict.Pass:
		return "On target: " + text + "."
	case v.Result == verdict.Fail:
		return "Off target: " + text + "."
	case v.Result == verdict.Undecided:
		return "Undecided, too close to a limit: " + text + "."
	}
	return ""
}

// likely is the likeliest cause in a sentence, a cause as write puts it.
func (s *solved) likely(f *compare.Finding, odd []string, write func(c *compare.Cause) string) string {
	if s.result.Status.Impossible {
		if len(odd) > 0 {
			return "The readings and the times contradict each other under every listed cause: " + odd[0] + "."
		}
		return "The readings and the times contradict each other under every listed cause: check the readings first."
	}
	top := &f.Causes[0]
	switch {
	case top.Probability >= sure && (top.Cause != cause.Unexplained || len(odd) == 0):
		return compare.Sentence(write(top)) + "."
	case top.Cause == cause.Unexplained && top.Probability >= 0.5 && len(odd) > 0:
		return compare.Sentence(write(top)) + ": " + odd[0] + "."
	case top.Probability >= 0.5 || len(f.Causes) == 1:
		return "Most likely " + write(top) + "."
	}
	return fmt.Sprintf("Not settled: %s, or %s.", write(top), write(&f.Causes[1]))
}

// inFull is a cause with its probability.
func inFull(c *compare.Cause) string {
	return fmt.Sprintf("%s (probability %s)", c.Detail, quantity.Probability(c.Probability))
}

// briefly is the same without nominals.
func briefly(c *compare.Cause) string {
	return fmt.Sprintf("%s (probability %s)", c.Brief, quantity.Probability(c.Probability))
}

// notExcluded names the rivals that the sentence of the likeliest cause leaves out; unexplained is named where it comes first
// among them, else it is left to the list.
func notExcluded(f *compare.Finding) string {
	rest := f.Causes[1:]
	if f.Causes[0].Probability < 0.5 && len(rest) > 0 {
		rest = rest[1:]
	}
	var out []string
	for i := range rest {
		if rest[i].Probability >= rival && len(out) < rivals && (rest[i].Cause != cause.Unexplained || out == nil) {
			out = append(out, briefly(&rest[i]))
		}
	}
	if len(out) == 0 {
		return ""
	}
	return "Not excluded: " + strings.Join(out, "; ") + "."
}
