package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
)

// simulatedJig is a simulated jig in a process of its own, which ends when its
// standard input does: when this process ends, however it does.
type simulatedJig struct {
	name    string
	port    string
	process *exec.Cmd
	input   io.WriteCloser
	output  *bufio.Scanner
}

// startSimulated starts this program again as a simulated jig and waits until
// it is ready.
func startSimulated(name, productFile, port string, fast bool) (*simulatedJig, error) {
	s, err := launched(name, productFile, port, fast)
	if err != nil {
		return nil, fmt.Errorf("start simulated jig %s: %w", name, err)
	}
	if _, err := s.hear(); err != nil {
		return nil, errors.Join(err, s.stop())
	}
	return s, nil
}

func launched(name, productFile, port string, fast bool) (*simulatedJig, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	args := []string{"jig", "simulate", "--control", "--product", productFile, "--link", port, "--serial", name}
	if fast {
		args = append(args, "--pace=false")
	}
	s := &simulatedJig{name: name, port: port, process: exec.Command(self, args...)}
	s.process.Stderr = os.Stderr
	detach(s.process)
	if s.input, err = s.process.StdinPipe(); err != nil {
		return nil, err
	}
	output, err := s.process.StdoutPipe()
	if err != nil {
		return nil, err
	}
	s.output = bufio.NewScanner(output)
	return s, s.process.Start()
}

// order gives the jig a command of --control and waits until it is done.
func (s *simulatedJig) order(command string) error {
	if _, err := fmt.Fprintln(s.input, command); err != nil {
		return fmt.Errorf("tell simulated jig %s %q: %w", s.name, command, err)
	}
	answer, err := s.hear()
	if err == nil && !strings.HasPrefix(answer, "done: ") {
		err = fmt.Errorf("simulated jig %s: %q: %s", s.name, command, answer)
	}
	return err
}

func (s *simulatedJig) hear() (string, error) {
	if s.output.Scan() {
		return s.output.Text(), nil
	}
	return "", errors.Join(fmt.Errorf("simulated jig %s ended by itself", s.name), s.output.Err())
}

// stop ends the jig and waits for it.
func (s *simulatedJig) stop() error { return errors.Join(s.input.Close(), s.process.Wait()) }
