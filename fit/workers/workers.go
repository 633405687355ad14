// Package workers runs functions side by side, and lets the failure of one become an error with a place: a panic in a
// goroutine of its own could be caught by nobody and would end the program.
package workers

import (
	"fmt"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
)

// Each calls do for 0 … n-1 on as many goroutines as workers says, each of which has a number from 0 for memory of its own.
// The calls share nothing, so their order leaves no trace. A call that panics is made again, by the caller's goroutine and
// after all others, so that it fails where it can be caught.
func Each(n, workers int, do func(worker, i int)) {
	var next atomic.Int64
	var busy sync.WaitGroup
	var lock sync.Mutex
	var failed []int
	one := func(worker, i int) {
		defer func() {
			if recover() != nil {
				lock.Lock()
				failed = append(failed, i)
				lock.Unlock()
			}
		}()
		do(worker, i)
	}
	run := func(worker int) {
		for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
			one(worker, i)
		}
	}
	for worker := 1; worker < min(workers, n); worker++ {
		busy.Go(func() { run(worker) })
	}
	run(0)
	busy.Wait()
	for _, i := range failed {
		do(0, i)
	}
}

// All calls the functions side by side and waits for all.
func All(fs ...func()) {
	Each(len(fs), len(fs), func(_, i int) { fs[i]() })
}

// Failure is a panic that was caught: a fault of the program.
type Failure struct {
	What  string // what it said
	Place string // file and line of the program
}

func (f *Failure) Error() string {
	return fmt.Sprintf("internal failure: %s, at %s; please report it with the input", f.What, f.Place)
}

// Caught makes an error of what recover returned; nil stays nil. It must be called by the deferred function itself.
func Caught(r any) error {
	if r == nil {
		return nil
	}
	return &Failure{fmt.Sprint(r), place()}
}

// place is the line of the program that panicked: the first below the run time's own.
func place() string {
	pc := make([]uintptr, 64)
	frames := runtime.CallersFrames(pc[:runtime.Callers(0, pc)])
	inside := false
	for {
		f, more := frames.Next()
		switch {
		case strings.HasPrefix(f.Function, "runtime.gopanic"):
			inside = true
		case inside && !strings.HasPrefix(f.Function, "runtime."):
			return fmt.Sprintf("%s:%d", filepath.Join(filepath.Base(filepath.Dir(f.File)), filepath.Base(f.File)), f.Line)
		}
		if !more {
			return "an unknown place"
		}
	}
}
