// Package steady tells one steady pulse train from what only looks like one: noise on a quiet line, bursts, and a train
// whose times are modulated. The mean of such times has no meaning that an uncertainty could be stated for.
package steady

import (
	"math"

	"offbeat/fit/transition"
)

const (
	blockEdges = 256  // edges that are kept in a row
	maxBlocks  = 64   // and how many such blocks; beyond, every second is dropped
	maxGaps    = 2048 // gaps kept singly
)

// Census keeps some of the sound edges of a train, in blocks of neighbours spread over the record, and the gaps between
// its runs. Its memory is bounded. The zero value is ready.
type Census struct {
	blocks [][]edge
	every  int // one block in so many is kept; 0 counts as 1
	count  int // edges met
	run    int // edges of the present run
	last   float64
	origin float64 // the first edge
	gaps   []gap
	runs   int     // runs that have ended
	inRuns int     // edges in those
	idle   float64 // time between runs, all of it
}

type edge struct {
	x           float64
	rise, first bool // first: of its run
}

// gap is the time between two runs.
type gap struct {
	length float64
	low    bool // the state that the run ended in
	run    int  // edges in the run before it
}

// Add takes one sound edge; first says that it begins a run.
func (c *Census) Add(x float64, rise, first bool) {
	if c.count == 0 {
		c.origin, first = x, true
	}
	if first && c.count > 0 {
		if len(c.gaps) < maxGaps {
			c.gaps = append(c.gaps, gap{x - c.last, rise, c.run})
		}
		c.runs, c.inRuns, c.run, c.idle = c.runs+1, c.inRuns+c.run, 0, c.idle+x-c.last
	}
	if b := c.block(); b != nil {
		*b = append(*b, edge{x, rise, first})
	}
	c.count, c.run, c.last = c.count+1, c.run+1, x
}

// Part is what was kept of the edges between two times.
func (c *Census) Part(from, to float64) *Census {
	p := &Census{every: c.every, origin: from, last: to}
	for _, b := range c.blocks {
		var own []edge
		for _, e := range b {
			if e.x >= from && e.x <= to {
				own = append(own, e)
			}
		}
		if p.count += len(own); len(own) > 0 {
			own[0].first = own[0].first || len(p.blocks) == 0
			p.blocks = append(p.blocks, own)
		}
	}
	return p
}

// AddRun takes edges of the present run, in order.
func (c *Census) AddRun(e []transition.Edge) {
	for len(e) > 0 {
		n := min(len(e), blockEdges-c.count%blockEdges)
		if b := c.block(); b != nil {
			for i := range e[:n] {
				*b = append(*b, edge{e[i].X, e[i].Rise, false})
			}
		}
		c.count, c.run, c.last = c.count+n, c.run+n, e[n-1].X
		e = e[n:]
	}
}

// block is where the next edge goes; nil where it is not kept.
func (c *Census) block() *[]edge {
	number := c.count / blockEdges
	c.every = max(c.every, 1)
	if number%c.every != 0 {
		return nil
	}
	at := number / c.every
	if at < len(c.blocks) {
		return &c.blocks[at]
	}
	if at == maxBlocks {
		for i := range maxBlocks / 2 {
			c.blocks[i] = c.blocks[2*i]
		}
		c.blocks = c.blocks[:maxBlocks/2]
		c.every *= 2
		return c.block()
	}
	c.blocks = append(c.blocks, make([]edge, 0, min(blockEdges, 32<<min(at, 3))))
	return &c.blocks[at]
}

// The intervals that are looked at, by what they are.
const (
	lows = iota
	highs
	periods // from rise to rise
	kinds
)

// intervals lists the lengths of each kind, in the order of time, in one list where all blocks were kept, else in one a
// block.
func (c *Census) intervals() (lists [kinds][][]float64) {
	var list [kinds][]float64
	end := func() {
		for k := range list {
			if len(list[k]) > 0 {
				lists[k] = append(lists[k], list[k])
			}
			list[k] = nil
		}
	}
	rise, last := math.NaN(), edge{first: true}
	for _, b := range c.blocks {
		if c.every > 1 {
			end()
			rise, last = math.NaN(), edge{first: true}
		}
		for i, e := range b {
			if e.first {
				rise = math.NaN()
			} else if i > 0 || c.every == 1 {
				k := lows
				if last.rise {
					k = highs
				}
				list[k] = append(list[k], e.x-last.x)
			}
			if e.rise {
				if !math.IsNaN(rise) {
					list[periods] = append(list[periods], e.x-rise)
				}
				rise = e.x
			}
			last = e
		}
	}
	end()
	return lists
}
