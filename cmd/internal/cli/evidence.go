package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"offbeat/acquire"
	"offbeat/cmd/internal/designfile"
	"offbeat/compare"
	"offbeat/compare/course"
	"offbeat/compare/reconcile"
	"offbeat/compare/reconcile/question"
	"offbeat/fit"
	"offbeat/fit/waveform"
)

// evidenceFlags say what was special about single captures, and which earlier result they follow.
type evidenceFlags struct {
	With     []placed
	Looks    []string
	Baseline string // a result's JSON file
	Settled  string // probability from which a cause counts as found; empty: the default
}

// placed is a flag's argument with the number of plain arguments that stand before it.
type placed struct {
	text   string
	before int
}

// placedValue collects placed arguments while the command line is read.
type placedValue struct {
	flags *pflag.FlagSet
	list  *[]placed
}

func (v *placedValue) String() string { return "" }
func (v *placedValue) Type() string   { return "CONDITION" }
func (v *placedValue) Set(text string) error {
	*v.list = append(*v.list, placed{text, v.flags.NArg()})
	return nil
}

func (f *evidenceFlags) register(c *cobra.Command) {
	g := c.Flags()
	g.Var(&placedValue{g, &f.With}, "with", "what was special about the capture that follows, such as \"R2 || 100k ± 1 %\" (repeatable; see offbeat help conditions)")
	g.StringArrayVar(&f.Looks, "look", nil, "what a look `SHOWED`, such as \"marking R2 wrong\" (repeatable; see offbeat help looks)")
	g.StringVar(&f.Settled, "settled", "", "from this `PROBABILITY` on a cause counts as found, and the advice is its repair (default 95%)")
	g.StringVar(&f.Baseline, "baseline", "", "ask what has moved since the earlier result `FILE.json` of this board")
}

// settled is the probability from which a cause counts as found; 0: the default.
func (f *evidenceFlags) settled() (float64, error) {
	if f.Settled == "" {
		return 0, nil
	}
	text, percent := strings.CutSuffix(strings.ReplaceAll(f.Settled, " ", ""), "%")
	p, err := strconv.ParseFloat(text, 64)
	if percent {
		p /= 100
	}
	if err != nil || !(p > 0.5 && p < 1) {
		return 0, usagef("--settled %q; expected a probability above 50%% and below 100%%, such as 90%%", f.Settled)
	}
	return p, nil
}

// conditions sorts the conditions by the capture they stand before; first is the place of the first capture among the
// plain arguments.
func (f *evidenceFlags) conditions(d *fit.Design, captures, first int) ([][]fit.Condition, error) {
	out := make([][]fit.Condition, captures)
	for _, w := range f.With {
		at := max(w.before-first, 0)
		if at >= captures {
			return nil, usagef("--with %q stands after the last capture; expected it before the capture it holds for", w.text)
		}
		c, err := designfile.Condition(w.text, d)
		if err != nil {
			return nil, err
		}
		out[at] = append(out[at], c)
	}
	return out, nil
}

// maxBaseline is far more than a result of hundreds of captures takes, in bytes.
const maxBaseline = 16_000_000

// earlier reads the baseline; nil: none was asked for.
func (f *evidenceFlags) earlier() (*compare.Finding, error) {
	if f.Baseline == "" {
		return nil, nil
	}
	const expect = "expected what offbeat reconcile --json printed of this board"
	file, err := os.Open(f.Baseline)
	if err != nil {
		return nil, fmt.Errorf("%s: the baseline cannot be read: %w", f.Baseline, acquire.Reason(err))
	}
	defer file.Close()
	text, err := io.ReadAll(io.LimitReader(file, maxBaseline+1))
	if err != nil {
		return nil, fmt.Errorf("%s: the baseline cannot be read: %w", f.Baseline, acquire.Reason(err))
	}
	if len(text) > maxBaseline {
		return nil, fmt.Errorf("%s: the baseline is longer than %d MB; %s", f.Baseline, maxBaseline/1_000_000, expect)
	}
	e := new(compare.Finding)
	if err := json.Unmarshal(text, e); err != nil {
		if at, ok := errors.AsType[*json.SyntaxError](err); ok {
			return nil, fmt.Errorf("%s: byte %d: this is no JSON (%v); %s", f.Baseline, at.Offset, err, expect)
		}
		return nil, fmt.Errorf("%s: this is no result (%v); %s", f.Baseline, err, expect)
	}
	if e.Schema != 1 {
		return nil, fmt.Errorf("%s: this is no result of schema 1; %s", f.Baseline, expect)
	}
	return e, nil
}

func (f *evidenceFlags) read(d *fit.Design, captures, first int) (*evidence, error) {
	with, err := f.conditions(d, captures, first)
	if err != nil {
		return nil, err
	}
	e, err := f.earlier()
	return &evidence{with, e}, err
}

// observations joins the measurements with the conditions of their sources.
func (r *reading) observations() []question.Observation {
	obs := make([]question.Observation, len(r.measurements))
	for i, m := range r.measurements {
		obs[i].Measurement, obs[i].Waveform = m, r.wave(i)
		if r.evidence == nil || i >= len(r.from) {
			continue
		}
		obs[i].Conditions = r.evidence.with[r.from[i]]
		for _, c := range obs[i].Conditions {
			if c.Kind == fit.OtherClock {
				other := *m
				other.Clock = c.Known.Value
				obs[i].Measurement = &other
			}
			r.captures[i].Notes = append(r.captures[i].Notes, "taken with "+c.Text)
		}
	}
	return obs
}

// wave is the waveform beside a measurement; nil: none.
func (r *reading) wave(i int) *waveform.Result {
	if i < len(r.waves) {
		return r.waves[i]
	}
	return nil
}

// solveUntil can be replaced: the tests solve what is asked again only once.
var solveUntil = reconcile.SolveUntil

// solve reconciles what was read with the design. It stops with its context.
func (r *reading) solve(ctx context.Context, d *fit.Design) (*compare.Finding, *reconcile.Evidence, error) {
	var earlier *compare.Finding
	if r.evidence != nil {
		earlier = r.evidence.earlier
	}
	f, e, err := solveUntil(ctx, d, r.observations(), earlier)
	if err != nil {
		return nil, nil, err
	}
	f.Captures = r.captures
	f.Stability = course.Explained(d, r.captures)
	f.Warnings = append(f.Warnings, r.warnings...)
	return f, e, nil
}
