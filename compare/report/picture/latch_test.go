package picture

import (
	"strings"
	"testing"

	"offbeat/fit/latch"
)

// A latch that is set at 2 s, falls by itself at 6 s, over 10 s: 32 units a second from 52 on.
func TestLatch(t *testing.T) {
	r := &latch.Result{Sets: 1, FalseResets: 1, Events: []latch.Event{{Time: 6, What: "output fell without a reset"}},
		States: []latch.State{{Time: 0}, {Time: 2, Set: true, Out: true}, {Time: 3, Out: true}, {Time: 6}, {Time: 10}}}
	p := Latch("p1", r)
	ok := p.SVG != ""
	if !ok {
		t.Fatal("no picture")
	}
	wellFormed(t, p)
	for _, want := range []string{
		`<line class="reference" x1="244" y1="24" x2="244" y2="144"/>`,               // the fault
		`<path class="signal" d="M52 138L116 138L116 112L244 112L244 138L372 138"/>`, // the output
		`<path class="signal" d="M52 58L116 58L116 32L148 32L148 58L372 58"/>`,       // set
		`<path class="signal" d="M52 98L372 98"/>`,                                   // reset
	} {
		if !strings.Contains(p.SVG, want) {
			t.Errorf("lacks %s in\n%s", want, p.SVG)
		}
	}
	if !strings.Contains(p.Prose, "At 6 s: output fell without a reset.") {
		t.Errorf("%q", p.Prose)
	}
	if Latch("p2", &latch.Result{}).SVG != "" {
		t.Error("nothing was drawn")
	}
}

// A contact that bounces a thousand times within a millisecond of a long record takes a few points, not thousands.
func TestLatchThinsBounces(t *testing.T) {
	r := &latch.Result{States: []latch.State{{Time: 0}}}
	for i := range 1000 {
		r.States = append(r.States, latch.State{Time: 50 + 1e-6*float64(i), Set: i%2 == 0})
	}
	r.States = append(r.States, latch.State{Time: 100})
	p := Latch("p1", r)
	wellFormed(t, p)
	if n := strings.Count(p.SVG, "L"); n > 60 {
		t.Errorf("%d points", n)
	}
}
