package ledger

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"offbeat/acquire/manifest"
	"offbeat/compare"
	"offbeat/compare/lot"
	"offbeat/compare/reconcile"
	"offbeat/fit"
	"offbeat/fit/fittest"
)

// A lot judged from its captures, from a ledger that one run filled, and from one that three shares filled, in whatever
// order they came, gives the same bytes; a run that is repeated works nothing out again. On both databases.
func TestLotFromLedger(t *testing.T) {
	ctx := context.Background()
	d := &fit.Design{Title: "Harbour lamp", Circuit: "astable", Family: fit.Ideal, History: fit.New, Supply: fit.Reading{Name: "supply", Value: 5},
		Parts: []fit.Part{{Name: "R1", Kind: fit.Resistor, Nominal: 10e3, Minus: 0.05, Plus: 0.05}, {Name: "R2", Kind: fit.Resistor, Nominal: 47e3, Minus: 0.05, Plus: 0.05},
			{Name: "C1", Kind: fit.Capacitor, Nominal: 100e-9, Minus: 0.1, Plus: 0.1}},
		Targets: []fit.Target{{Quantity: "frequency", Value: 138.7, Low: 138.7 * 0.85, High: 138.7 * 1.15}}}
	r, err := NewRun(d, nil, "v1.2.3", nil)
	if err != nil {
		t.Fatal(err)
	}
	boards := func() []lot.Board {
		var entries []manifest.Entry
		for i := range 12 {
			b := captured(t, fmt.Sprint("lamp ", (i*7)%12), fmt.Sprint("bytes of ", i))
			e := b.Captures[0]
			e.Time, e.Station = epoch.Add(time.Duration(i%5)*time.Minute), fmt.Sprint("bench ", i%2)
			entries = append(entries, e)
		}
		return lot.Group(entries)
	}
	worked := 0
	work := func(station *Station) lot.Work {
		return func(_ context.Context, b *lot.Board) (*compare.Finding, []lot.Measured, error) {
			if station != nil {
				if o, err := station.Find(ctx, b); err != nil || o != nil {
					return nil, nil, errorsOr(err, &lot.Known{Outcome: o})
				}
			}
			b.Identify()
			worked++
			if b.Name == "lamp 3" {
				return nil, nil, fmt.Errorf("cut short")
			}
			random := rand.New(rand.NewPCG(19, uint64(b.Digests[0][0])<<8+uint64(b.Digests[0][1])))
			high, low, err := fittest.Integrate(fittest.Network{Circuit: fittest.Astable, Supply: 5, R1: 10e3 * math.Exp(0.01*random.NormFloat64()), R2: 47e3 * math.Exp(0.01*random.NormFloat64()), C: 100e-9 * math.Exp(0.02*random.NormFloat64())})
			if err != nil {
				return nil, nil, err
			}
			m := &fit.Measurement{Source: b.Captures[0].Capture, High: fit.Estimate{Value: high, Uncertainty: high * 1e-4, Count: 60}, Low: fit.Estimate{Value: low, Uncertainty: low * 1e-4, Count: 60}, Clock: 1e-4, Cycles: 60}
			f, err := reconcile.Run(d, []*fit.Measurement{m})
			return f, []lot.Measured{{Entry: &b.Captures[0], Measurement: m}}, err
		}
	}
	bytes := func(c *lot.Collector) string {
		report, err := c.Report(lot.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i := range report.Failed { // the captures' folder differs from run to run
			report.Failed[i].Error = ""
		}
		text, err := json.Marshal(report)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	through := func(station *Station, all []lot.Board) *lot.Collector {
		c := lot.NewCollector(d)
		err := lot.Run(ctx, all, work(station), lot.RunOptions{Workers: 1}, func(o *lot.Outcome) error {
			if station != nil {
				if err := station.Record(ctx, o); err != nil {
					return err
				}
			}
			c.Add(o)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	want := bytes(through(nil, boards()))
	from := func(where string) string {
		s, err := Read(ctx, where)
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		c := lot.NewCollector(d)
		err = s.Each(ctx, Filter{Lot: "week 5", Current: true, Manifest: true}, func(v *Visit) error {
			o, err := v.Outcome()
			if err == nil {
				c.Add(o)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return bytes(c)
	}
	onBoth(t, func(t *testing.T, where string) {
		for _, shares := range [][]int{{0}, {2, 0, 1}} {
			if len(shares) > 1 {
				where = emptyAgain(t, where)
			}
			for _, k := range shares {
				station, err := NewStation(ctx, where, "", r)
				if err != nil {
					t.Fatal(err)
				}
				mine := slices.DeleteFunc(boards(), func(b lot.Board) bool { return b.Place%len(shares) != k })
				through(station, mine)
				station.Close()
			}
			if got := from(where); got != want {
				t.Errorf("%d shares:\n%s\nwant\n%s", len(shares), got, want)
			}
			worked = 0
			station, err := NewStation(ctx, where, "", r)
			if err != nil {
				t.Fatal(err)
			}
			if got := bytes(through(station, boards())); got != want || worked != 0 || station.Known != 12 {
				t.Errorf("repeated: %d boards were worked out again, %d known\n%s", worked, station.Known, got)
			}
			station.Close()
		}
	})
}

// emptyAgain is another empty ledger of the same kind.
func emptyAgain(t *testing.T, where string) string {
	if strings.HasPrefix(where, "postgres") {
		return emptySchema(t)
	}
	return filepath.Join(t.TempDir(), "again.db")
}

func errorsOr(err error, otherwise error) error {
	if err != nil {
		return err
	}
	return otherwise
}
