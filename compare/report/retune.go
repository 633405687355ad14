package report

import (
	"fmt"
	"io"
	"strings"

	"offbeat/compare"
	"offbeat/compare/caution"
)

// Retuning is the JSON document of `offbeat retune`.
type Retuning struct {
	Schema    int                             `json:"schema"`
	Title     string                          `json:"title,omitempty"`
	Finding   string                          `json:"finding"` // of the board as it is
	Measured  compare.Times[compare.Measured] `json:"measured"`
	Verdict   compare.Verdict                 `json:"verdict"`
	Proposals []compare.Proposal              `json:"proposals"`
	Captures  []compare.Capture               `json:"captures"`
	Warnings  []string                        `json:"warnings"`
}

// RetuneText writes what to fit, the surest first.
func RetuneText(w io.Writer, r *Retuning, s Style) error {
	p := newPrinter(w, s)
	p.opening(r.Finding, r.Title)
	p.heading("WHAT TO FIT, THE SUREST FIRST")
	if len(r.Proposals) == 0 {
		p.prose("  ", "  ", noProposal)
	}
	for i := range r.Proposals {
		p.proposal(i, r)
	}
	p.captures(r.Captures)
	return p.close(r.Warnings, caution.Qualified)
}

// proposal writes one way to fit parts: what, how sure, and what the target's quantities then are.
func (p *printer) proposal(i int, r *Retuning) {
	q := &r.Proposals[i]
	text := fmt.Sprintf("%s (on target with %s)", ChangeText(q), Percent(q.InTarget))
	if stock := stockText(q); stock != "" {
		text += ", " + stock
	}
	p.prose(fmt.Sprintf("  %d. ", i+1), "     ", text)
	p.prose("     ", "     ", "Then "+p.bands(q, &r.Verdict)+".")
	if q.Caution != "" && (i == 0 || q.Caution != r.Proposals[i-1].Caution) {
		p.prose("     Caution: ", "     ", q.Caution)
	}
}

// bands lists the predicted quantities of the target, or all of them where it says nothing.
func (p *printer) bands(q *compare.Proposal, v *compare.Verdict) string {
	var out []string
	for i, b := range pick(&q.Predicted) {
		wanted := len(v.Each) == 0
		for _, e := range v.Each {
			wanted = wanted || e.Quantity == timeRows[i].key
		}
		if b != nil && wanted {
			out = append(out, fmt.Sprintf("%s %s, 95 %% within %s", timeRows[i].name, among(b.Value, b.Low, b.High, timeRows[i].unit), span(b.Low, b.High, timeRows[i].unit)))
		}
	}
	return strings.Join(out, "; ")
}

// ChangeText is a proposal in words: "R2: 39k; C1: 100n".
func ChangeText(q *compare.Proposal) string {
	if len(q.Changes) == 0 {
		return "Leave it as it is"
	}
	var out []string
	for _, c := range q.Changes {
		out = append(out, c.Part+": "+c.Fit)
	}
	return strings.Join(out, "; ")
}

// RetuneLine writes the first proposal in one line.
func RetuneLine(w io.Writer, r *Retuning) error {
	_, err := fmt.Fprintln(w, proposalLine(r.Proposals))
	return err
}

// noProposal says that nothing helps.
const noProposal = "No change of one or two parts brings the board on target."

// proposalLine is the best proposal in a sentence.
func proposalLine(all []compare.Proposal) string {
	if len(all) == 0 {
		return noProposal
	}
	return fmt.Sprintf("%s (on target with %s).", ChangeText(&all[0]), Percent(all[0].InTarget))
}

// RetuneRows are the proposals as rows: one for the whole and one a predicted quantity.
func RetuneRows(r *Retuning) []Row {
	var rows []Row
	for i := range r.Proposals {
		q := &r.Proposals[i]
		name := fmt.Sprintf("proposal %d", i+1)
		rows = append(rows, Row{Kind: "proposal", Name: name, Probability: &q.InTarget, Detail: ChangeText(q)})
		for k := range q.Changes {
			c := &q.Changes[k]
			rows = append(rows, Row{Kind: "change", Name: name + " " + c.Part, Unit: c.Unit, Value: &c.Value, Detail: c.Fit})
		}
		for k, b := range pick(&q.Predicted) {
			if b != nil {
				rows = append(rows, Row{Kind: "retuned", Name: name + " " + timeRows[k].key, Unit: unitText(k), Value: &b.Value, Low: &b.Low, High: &b.High})
			}
		}
	}
	return rows
}
