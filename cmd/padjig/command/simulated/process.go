package simulated

// The demo's jigs are processes of their own, as real ones are things of their own: one
// that hangs or falls over takes nothing with it.

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
)

// Process is a simulated jig in a process of its own, which ends when its
// standard input does: when this process ends, however it does.
type Process struct {
	Name    string
	Port    string
	Process *exec.Cmd
	Input   io.WriteCloser
	Output  *bufio.Scanner
}

// Start starts this program again as a simulated jig and waits until
// it is ready.
func Start(name, productFile, port string, fast bool) (*Process, error) {
	s, err := launched(name, productFile, port, fast)
	if err != nil {
		return nil, fmt.Errorf("start simulated jig %s: %w", name, err)
	}
	if _, err := s.Hear(); err != nil {
		return nil, errors.Join(err, s.Stop())
	}
	return s, nil
}

func launched(name, productFile, port string, fast bool) (*Process, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	seed := fmt.Sprint(rand.Uint32()) // pads of its own: those of another jig, or of before, would be found out
	args := []string{"jig", "simulate", "--control", "--product", productFile, "--link", port, "--serial", name, "--seed", seed}
	if fast {
		args = append(args, "--pace=false")
	}
	s := &Process{Name: name, Port: port, Process: exec.Command(self, args...)}
	s.Process.Stderr = os.Stderr
	detach(s.Process)
	if s.Input, err = s.Process.StdinPipe(); err != nil {
		return nil, err
	}
	output, err := s.Process.StdoutPipe()
	if err != nil {
		return nil, err
	}
	s.Output = bufio.NewScanner(output)
	return s, s.Process.Start()
}

// Order gives the jig a command of --control and waits until it is done.
func (s *Process) Order(command string) error {
	if _, err := fmt.Fprintln(s.Input, command); err != nil {
		return fmt.Errorf("tell simulated jig %s %q: %w", s.Name, command, err)
	}
	answer, err := s.Hear()
	if err == nil && !strings.HasPrefix(answer, "done: ") {
		err = fmt.Errorf("simulated jig %s: %q: %s", s.Name, command, answer)
	}
	return err
}

// Hear waits for the jig's next line.
func (s *Process) Hear() (string, error) {
	if s.Output.Scan() {
		return s.Output.Text(), nil
	}
	return "", errors.Join(fmt.Errorf("simulated jig %s ended by itself", s.Name), s.Output.Err())
}

// Stop ends the jig and waits for it.
func (s *Process) Stop() error { return errors.Join(s.Input.Close(), s.Process.Wait()) }
