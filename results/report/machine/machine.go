// Package machine says on what, and how busy, something was measured: a figure without it is nobody's.
package machine

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"runtime"
	"strconv"
	"strings"
)

// Machine is this machine as it describes itself; what it does not say is empty.
type Machine struct {
	Processor string
	Cores     int
	Memory    int64 // bytes
	Kernel    string
	Go        string
	Load      string // processors asked for on average in the minute before
}

// Here looks at this machine.
func Here() Machine {
	m := Machine{Processor: runtime.GOARCH, Cores: runtime.NumCPU(), Kernel: runtime.GOOS, Go: runtime.Version()}
	if name := named("/proc/cpuinfo", "model name"); name != "" {
		m.Processor = name
	}
	kilobytes, _ := strconv.ParseInt(strings.TrimSuffix(named("/proc/meminfo", "MemTotal"), " kB"), 10, 64)
	m.Memory = kilobytes << 10
	if release := word("/proc/sys/kernel/osrelease"); release != "" {
		m.Kernel = word("/proc/sys/kernel/ostype") + " " + release
	}
	m.Load = word("/proc/loadavg")
	return m
}

// word is the first word of a file.
func word(path string) string {
	text, _ := os.ReadFile(path)
	first, _, _ := strings.Cut(strings.TrimSpace(string(text)), " ")
	return first
}

// String is the machine in a line, without its load.
func (m Machine) String() string {
	return fmt.Sprintf("%s, %d cores, %.0f GiB, %s, %s", m.Processor, m.Cores, float64(m.Memory)/(1<<30), m.Kernel, m.Go)
}

// named is what a file of lines "name: value" says of a name first.
func named(path, name string) string {
	file, err := os.Open(path)
	if err != nil {
		return ""
	}
	defer file.Close()
	return first(file, name)
}

func first(r io.Reader, name string) string {
	for lines := bufio.NewScanner(r); lines.Scan(); {
		if of, value, is := strings.Cut(lines.Text(), ":"); is && strings.TrimSpace(of) == name {
			return strings.TrimSpace(value)
		}
	}
	return ""
}
