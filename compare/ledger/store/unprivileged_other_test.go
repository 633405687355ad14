//go:build !unix

package store

import "os/exec"

// unprivileged has nothing to do where there is no root.
func unprivileged(*exec.Cmd, string) error { return nil }
