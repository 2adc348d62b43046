//go:build unix

package simulated

import (
	"os/exec"
	"syscall"
)

// detach puts a process into a group of its own, so that Ctrl-C reaches only
// this one, which ends the other in order.
func detach(c *exec.Cmd) { c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }
