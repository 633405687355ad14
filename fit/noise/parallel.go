package noise

import (
	"runtime"

	"offbeat/fit/workers"
)

// worthSharing is how many observations' work, all calls together, is worth a second core.
const worthSharing = 1 << 13

// share calls do for 0 … n-1, on all cores if work, in observations, is worth it. Each core has a worker's number
// below cores(), for memory of its own. What do gives must not hang on the order.
func share(n, work int, do func(worker, i int)) {
	if work < worthSharing {
		for i := range n {
			do(0, i)
		}
		return
	}
	workers.Each(n, cores(), do)
}

func cores() int { return runtime.GOMAXPROCS(0) }
