//go:build unix

package store

import (
	"errors"
	"os"
	"os/exec"
	"os/user"
	"strconv"
	"syscall"
)

// unprivileged has root run a command as another user, to whom the folder then belongs.
func unprivileged(c *exec.Cmd, dir string) error {
	if os.Getuid() != 0 {
		return nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, _ := strconv.Atoi(u.Uid)
		gid, _ := strconv.Atoi(u.Gid)
		c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}}
		return os.Chown(dir, uid, gid)
	}
	return errors.New("the server refuses to run as root, and there is no user postgres or nobody")
}
