// Package ready tells the service manager that started a program whether it is up, alive, and ending, in the
// manager's own words (sd_notify(3), sd_watchdog_enabled(3)): a few datagrams, for which no library is needed.
package ready

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"strconv"
	"strings"
	"time"
)

// Manager is who started the program. The zero value is nobody, who is told nothing.
type Manager struct {
	address string
	within  time.Duration // it wants to hear that the program lives at least so often; 0: it does not watch
}

// Environment finds the manager in the environment that it gave to process pid.
func Environment(getenv func(string) string, pid int) (Manager, error) {
	m := Manager{address: getenv("NOTIFY_SOCKET")}
	if m.address != "" && !strings.HasPrefix(m.address, "/") && !strings.HasPrefix(m.address, "@") {
		return Manager{}, fmt.Errorf("NOTIFY_SOCKET=%s: neither a path nor an abstract name", m.address)
	}
	micro := getenv("WATCHDOG_USEC")
	if m.address == "" || micro == "" {
		return m, nil
	}
	if of := getenv("WATCHDOG_PID"); of != "" && of != strconv.Itoa(pid) {
		return m, nil // of another process, that passed its environment on
	}
	n, err := strconv.ParseInt(micro, 10, 64)
	if err != nil || n <= 0 || n > int64(24*time.Hour/time.Microsecond) {
		return Manager{}, fmt.Errorf("WATCHDOG_USEC=%s: microseconds are asked for, at most a day", micro)
	}
	m.within = time.Duration(n) * time.Microsecond
	return m, nil
}

// FromSystem is the manager of this process.
func FromSystem() (Manager, error) { return Environment(os.Getenv, os.Getpid()) }

// Tell tells it, one assignment a line.
func (m Manager) Tell(states ...string) error {
	if m.address == "" {
		return nil
	}
	conn, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: m.address, Net: "unixgram"})
	if err != nil {
		return fmt.Errorf("tell the service manager: %w", err)
	}
	_ = conn.SetWriteDeadline(time.Now().Add(time.Second)) // one that does not read is no reason to stand still
	_, err = conn.Write([]byte(strings.Join(states, "\n")))
	return errors.Join(err, conn.Close())
}

// Part is something that has to turn for the program to count as alive.
type Part struct {
	Name  string
	Turns func(context.Context) error // nil: it turns; it ends with the context
}

// How often the parts are looked at until all turn for the first time, and afterwards where no watchdog says how
// often.
const (
	untilUp = 100 * time.Millisecond
	usual   = 15 * time.Second
)

// Keep says that the program is up once every part turns, and from then on that it is alive as long as every part does
// whenever they are looked at; that it is ending when ctx ends. What stands still is said to the manager and to
// report, once. Where nobody is told anything it returns at once.
func (m Manager) Keep(ctx context.Context, status string, parts []Part, report func(string)) {
	if m.address == "" {
		return
	}
	tell := func(states ...string) {
		if err := m.Tell(states...); err != nil {
			report(err.Error())
		}
	}
	defer tell("STOPPING=1")
	every, up, stood := untilUp, false, ""
	for {
		stands, why := m.standing(ctx, parts)
		if ctx.Err() != nil {
			return
		}
		switch {
		case stands != "" && stands != stood && up:
			report(stands + " " + why)
			tell("STATUS=" + stands + " " + why)
		case stands == "" && !up:
			up, every = true, usual
			if m.within > 0 {
				every = m.within / 4
			}
			tell("READY=1", "STATUS="+status, "WATCHDOG=1")
		case stands == "":
			if stood != "" {
				tell("STATUS=" + status)
			}
			if m.within > 0 {
				tell("WATCHDOG=1")
			}
		}
		stood = stands
		timer := time.NewTimer(every)
		select {
		case <-ctx.Done():
			timer.Stop()
			return
		case <-timer.C:
		}
	}
}

// standing names the first part that does not turn, and says why; empty: all do.
func (m Manager) standing(ctx context.Context, parts []Part) (name, why string) {
	patience := usual
	if m.within > 0 {
		patience = m.within / 4
	}
	for _, p := range parts {
		asked, cancel := context.WithTimeout(ctx, patience)
		err := p.Turns(asked)
		cancel()
		if err != nil {
			return p.Name, strings.ReplaceAll(err.Error(), "\n", " ")
		}
	}
	return "", ""
}
