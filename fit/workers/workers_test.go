package workers

import (
	"errors"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// caught runs f and gives its panic as an error.
func caught(f func()) (err error) {
	defer func() { err = Caught(recover()) }()
	f()
	return nil
}

// TestFailureIsAnError: whichever call fails, on whichever goroutine, all others are made once and the failure is an error
// with a place in this file.
func TestFailureIsAnError(t *testing.T) {
	for _, fails := range []int{-1, 0, 1, 50, 99} {
		var done [100]atomic.Int32
		err := caught(func() {
			Each(100, 8, func(_, i int) {
				done[i].Add(1)
				if i == fails {
					var none []int
					none[i] = 1
				}
			})
		})
		for i := range done {
			want := int32(1)
			if i == fails {
				want = 2
			}
			if n := done[i].Load(); n != want {
				t.Errorf("failing at %d: call %d was made %d times, want %d", fails, i, n, want)
			}
		}
		var f *Failure
		if fails < 0 && err != nil || fails >= 0 && (!errors.As(err, &f) || !strings.Contains(f.Place, "workers_test.go:") || !strings.Contains(f.What, "out of range")) {
			t.Errorf("failing at %d: %v", fails, err)
		}
	}
}

func TestAll(t *testing.T) {
	var sum atomic.Int64
	All(func() { sum.Add(1) }, func() { sum.Add(10) }, func() { sum.Add(100) })
	if sum.Load() != 111 {
		t.Errorf("the sum is %d, want 111", sum.Load())
	}
}

// Two calls that wait for each other end only side by side.
func TestSideBySide(t *testing.T) {
	met := make(chan bool)
	meet := func() {
		select {
		case met <- true:
		case <-met:
		case <-time.After(10 * time.Second):
			t.Error("the other call did not begin")
		}
	}
	All(meet, meet)
}
