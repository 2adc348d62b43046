package ready

import (
	"context"
	"errors"
	"net"
	"path/filepath"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// told gives what has come to a manager's socket since the last call.
func told(t *testing.T, socket *net.UnixConn) (all []string) {
	t.Helper()
	raw, err := socket.SyscallConn()
	require.NoError(t, err)
	part := make([]byte, 4096)
	require.NoError(t, raw.Read(func(fd uintptr) bool {
		for {
			n, _, err := syscall.Recvfrom(int(fd), part, syscall.MSG_DONTWAIT)
			if err != nil {
				return true
			}
			all = append(all, strings.Split(string(part[:n]), "\n")...)
		}
	}))
	return all
}

// managed has parts kept under a manager that watches for 20 s, in fake time.
func managed(t *testing.T, parts []Part, do func(told func() []string, end func(), reported *[]string)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		socket, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: filepath.Join(t.TempDir(), "n"), Net: "unixgram"})
		require.NoError(t, err)
		defer socket.Close()
		m := Manager{socket.LocalAddr().String(), 20 * time.Second}
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		var reported []string
		go m.Keep(ctx, "two lanes", parts, func(line string) { reported = append(reported, line) })
		do(func() []string { synctest.Wait(); return told(t, socket) }, func() { cancel(); synctest.Wait() }, &reported)
	})
}

// Ready is said when every part turns and not before; the watchdog is fed only while every part does; and the end is
// said as it begins.
func TestTheManagerIsToldWhatIsTrue(t *testing.T) {
	var lane atomic.Value
	lane.Store("has not begun")
	parts := []Part{
		{"the pages", func(context.Context) error { return nil }},
		{"lane 1", func(context.Context) error {
			if why := lane.Load().(string); why != "" {
				return errors.New(why)
			}
			return nil
		}},
	}
	managed(t, parts, func(told func() []string, end func(), reported *[]string) {
		time.Sleep(time.Minute)
		assert.Empty(t, told(), "a lane has not begun")
		assert.Empty(t, *reported, "nor is that trouble")
		lane.Store("")
		time.Sleep(time.Second)
		assert.Equal(t, []string{"READY=1", "STATUS=two lanes", "WATCHDOG=1"}, told())
		time.Sleep(20 * time.Second)
		assert.Equal(t, []string{"WATCHDOG=1", "WATCHDOG=1", "WATCHDOG=1", "WATCHDOG=1"}, told(), "four times in a period")
		lane.Store("has stood still\nfor long")
		time.Sleep(10 * time.Second)
		lane.Store("has stood still\nfor longer")
		time.Sleep(time.Hour)
		assert.Equal(t, []string{"STATUS=lane 1 has stood still for long"}, told(), "not fed, and why")
		assert.Equal(t, []string{"lane 1 has stood still for long"}, *reported, "once")
		lane.Store("")
		time.Sleep(5 * time.Second)
		assert.Equal(t, []string{"STATUS=two lanes", "WATCHDOG=1"}, told())
		end()
		assert.Equal(t, []string{"STOPPING=1"}, told())
	})
}

// A part that never answers is one that does not turn: looking at it ends.
func TestAPartThatNeverAnswersIsNotWaitedFor(t *testing.T) {
	var hangs atomic.Bool
	parts := []Part{{"the pages", func(ctx context.Context) error {
		if hangs.Load() {
			<-ctx.Done()
			return ctx.Err()
		}
		return nil
	}}}
	managed(t, parts, func(told func() []string, end func(), reported *[]string) {
		assert.Contains(t, told(), "READY=1")
		hangs.Store(true)
		time.Sleep(time.Minute)
		assert.NotContains(t, told(), "WATCHDOG=1")
		end()
		assert.Equal(t, []string{"STOPPING=1"}, told())
	})
}

func TestTheManagerIsFoundInTheEnvironment(t *testing.T) {
	for _, c := range []struct {
		socket, micro, pid string
		want               Manager
		mistake            string
	}{
		{"", "", "", Manager{}, ""},
		{"", "30000000", "", Manager{}, ""},
		{"/run/n", "", "", Manager{"/run/n", 0}, ""},
		{"@n", "30000000", "", Manager{"@n", 30 * time.Second}, ""},
		{"/run/n", "30000000", "42", Manager{"/run/n", 30 * time.Second}, ""},
		{"/run/n", "30000000", "41", Manager{"/run/n", 0}, ""}, // of the process that started this one
		{"n", "", "", Manager{}, "neither a path nor"},
		{"/run/n", "0", "", Manager{}, "WATCHDOG_USEC=0"},
		{"/run/n", "-1", "", Manager{}, "WATCHDOG_USEC=-1"},
		{"/run/n", "soon", "", Manager{}, "WATCHDOG_USEC=soon"},
		{"/run/n", "9223372036854775807", "", Manager{}, "at most a day"},
	} {
		env := map[string]string{"NOTIFY_SOCKET": c.socket, "WATCHDOG_USEC": c.micro, "WATCHDOG_PID": c.pid}
		got, err := Environment(func(name string) string { return env[name] }, 42)
		assert.Equal(t, c.want, got, c)
		if c.mistake == "" {
			assert.NoError(t, err)
		} else {
			assert.ErrorContains(t, err, c.mistake)
		}
	}
}

// A manager that went away is reported, and stops nothing.
func TestAManagerThatWentAway(t *testing.T) {
	err := Manager{address: filepath.Join(t.TempDir(), "gone")}.Tell("READY=1")
	assert.ErrorContains(t, err, "tell the service manager")
	assert.NoError(t, Manager{}.Tell("READY=1"))
}
