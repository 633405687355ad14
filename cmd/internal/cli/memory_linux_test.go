package cli

import (
	"runtime"
	"syscall"
)

// widePages has the system hand out the heap's first gigabyte in pages of two megabytes: what is kept of solved boards fills it, and half a
// million small pages cost a fifth of the tests' time. Where the system has none, nothing changes.
func widePages() {
	heap := make([]byte, 1<<30)
	_ = syscall.Madvise(heap, syscall.MADV_HUGEPAGE)
	runtime.GC() // it is free again, and so taken next
}
