package report

import (
	"fmt"
	"io"
	"math"

	"offbeat/compare/caution"
	"offbeat/fit"
	"offbeat/fit/predict"
)

// Predicted writes what a design promises, and where its spread comes from.
func Predicted(w io.Writer, d *fit.Design, r *predict.Result, warnings []string, s Style) error {
	p := newPrinter(w, s)
	p.opening(promise(d, r), "")
	var rows [][]cell
	for i, b := range r.Bands {
		if i > 0 && r.OnePulse {
			break
		}
		u := timeRows[i].unit
		rows = append(rows, plain(timeRows[i].name, among(b.FirstOrder, b.Worst[0], b.Worst[1], u), among(b.Nominal, b.Worst[0], b.Worst[1], u),
			span(b.Worst[0], b.Worst[1], u), span(b.RSS[0], b.RSS[1], u), span(b.MonteCarlo[0], b.MonteCarlo[1], u)))
	}
	p.table([]column{{}, {head: "first order", drop: 2}, {head: "nominal"}, {head: "worst case"}, {head: "root sum square", drop: 1}, {head: "95 % of boards"}}, rows)
	p.prose("  ", "  ", "First order: the timer ideal. Nominal: the timer typical. Worst case and root sum square: the parts within tolerance. 95 % of boards: parts, supply and timer drawn at random.")
	p.predictedBudget(r)
	return p.close(warnings, caution.Supply)
}

// PredictedLine writes a prediction in one line.
func PredictedLine(w io.Writer, d *fit.Design, r *predict.Result) error {
	_, err := fmt.Fprintln(w, promise(d, r))
	return err
}

// promise is a prediction in one sentence.
func promise(d *fit.Design, r *predict.Result) string {
	name := d.Title
	if name == "" {
		name = d.Circuit
	}
	return name + ": " + promised(r)
}

// promised is what a design promises, without its name.
func promised(r *predict.Result) string {
	q := 3 // frequency
	if r.OnePulse {
		q = 0
	}
	b := r.Bands[q]
	return fmt.Sprintf("%s %s, %s in the worst case of its parts.", timeRows[q].name, among(b.Nominal, b.Worst[0], b.Worst[1], timeRows[q].unit), span(b.Worst[0], b.Worst[1], timeRows[q].unit))
}

// leastShift is the smallest relative shift that is shown.
const leastShift = 1e-5

// predictedBudget lists each input's share of the spread, and of the difference from the ideal timer.
func (p *printer) predictedBudget(r *predict.Result) {
	p.heading("WHERE THE SPREAD COMES FROM")
	shown := []int{0, 1, 3} // high, low, frequency
	heads := []column{{head: "input"}, {head: "distribution", drop: 3}}
	if r.OnePulse {
		shown = shown[:1]
	}
	for _, q := range shown {
		heads = append(heads, column{head: timeRows[q].name, right: true}, column{head: "shift", right: true, drop: 2})
	}
	var rows [][]cell
	for _, b := range r.Budget {
		row := plain(b.Input, b.Distribution)
		for _, q := range shown {
			shift := ""
			if math.Abs(b.Shift[q]) >= leastShift {
				shift = fmt.Sprintf("%+.2g %%", 100*b.Shift[q])
			}
			row = append(row, cell{text: relative(b.Effect[q])}, cell{text: shift})
		}
		rows = append(rows, row)
	}
	p.table(heads, rows)
	p.prose("  ", "  ", "Relative standard uncertainty that each input gives; shift: what its typical value does against the ideal timer.")
	if !p.style.Explain {
		return
	}
	for _, b := range r.Budget {
		p.prose("  - ", "    ", b.Input+": "+b.Source)
	}
}
