package look

import (
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"padjig/cmd/padjig/doctor"
	"padjig/fixture/link"
)

// Computer is where the doctor looks: the system's own folders, and for tests others.
type Computer struct {
	Sys, Proc fs.FS
	Ports     func() ([]link.Port, error)
	Access    func(path string) (allowed bool, group string)
}

// This is this computer.
func This() Computer {
	return Computer{os.DirFS("/sys"), os.DirFS("/proc"), link.Ports, access}
}

// ports looks at the serial ports without opening any.
func (c Computer) ports(f *doctor.Facts) []doctor.Port {
	if c.Ports == nil {
		return nil
	}
	all, err := c.Ports()
	if err != nil {
		f.Unread[doctor.Ports] = err.Error()
		return nil
	}
	held := c.holders()
	out := []doctor.Port{}
	for _, p := range all {
		port := doctor.Port{Path: p.Path, Name: p.Name, Latency: c.latency(p.Name)}
		port.Allowed, port.Group = c.Access(p.Path)
		device := p.Path
		if target, err := filepath.EvalSymlinks(p.Path); err == nil {
			device = target
		}
		if h, is := held[device]; is {
			port.Holder, port.PID, port.Ours = h.program, h.pid, strings.HasPrefix(h.program, "padjig") || h.pid == os.Getpid()
		}
		out = append(out, port)
	}
	return out
}

// latency is for how long a USB adapter gathers; 0 where it does not say so.
func (c Computer) latency(name string) time.Duration {
	text, err := fs.ReadFile(c.Sys, path.Join("bus/usb-serial/devices", name, "latency_timer"))
	if err != nil {
		return 0
	}
	ms, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil {
		return 0
	}
	return time.Duration(ms) * time.Millisecond
}

// holder is a process that has a device open.
type holder struct {
	pid     int
	program string
}

// holders are those of devices, as far as this user may see: the superuser all, others their own.
func (c Computer) holders() map[string]holder {
	out := map[string]holder{}
	links, err := fs.Glob(c.Proc, "[0-9]*/fd/*")
	if err != nil {
		return out
	}
	for _, link := range links {
		device, err := fs.ReadLink(c.Proc, link)
		if err != nil || !strings.HasPrefix(device, "/dev/") {
			continue
		}
		process, _, _ := strings.Cut(link, "/")
		pid, err := strconv.Atoi(process)
		if err != nil {
			continue
		}
		program, err := fs.ReadFile(c.Proc, path.Join(process, "comm"))
		if err != nil {
			continue // it ended meanwhile
		}
		out[device] = holder{pid, strings.TrimSpace(string(program))}
	}
	return out
}
