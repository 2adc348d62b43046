//go:build !unix

package simulated

import (
	"errors"
	"io"
	"os/exec"
)

// Port stands for a serial port elsewhere; here nothing can.
type Port struct{ io.ReadWriteCloser }

// OpenPort always fails: this system has no pseudo-terminals.
func OpenPort(string) (*Port, error) {
	return nil, errors.New("this system has no pseudo-terminals, which simulated jigs are reached by; try them on Linux, or use a jig")
}

// Path is what a client would open.
func (*Port) Path() string { return "" }

// detach has nothing to do: there is no other process to start.
func detach(*exec.Cmd) {}
