package noise

import (
	"runtime"
	"sync"
	"sync/atomic"
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
	var next atomic.Int64
	var busy sync.WaitGroup
	one := func(worker int) {
		for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
			do(worker, i)
		}
	}
	for worker := 1; worker < min(cores(), n); worker++ {
		busy.Go(func() { one(worker) })
	}
	one(0)
	busy.Wait()
}

func cores() int { return runtime.GOMAXPROCS(0) }
