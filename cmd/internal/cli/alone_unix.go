//go:build unix

package cli

import (
	"io/fs"
	"syscall"
)

// alone says that a file can take another's place and nothing else changes: no further link to it, the same owner.
func alone(old, by fs.FileInfo) bool {
	a, ok := old.Sys().(*syscall.Stat_t)
	b, same := by.Sys().(*syscall.Stat_t)
	return ok && same && a.Nlink == 1 && a.Uid == b.Uid && a.Gid == b.Gid
}
