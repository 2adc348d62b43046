package server

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/command/server/ready"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/pulse"
	"padjig/cmd/padjig/web"
	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/results"
	"padjig/sequence/product"
)

// A station says that it is ready when its lane and its pages turn. One whose lane hangs in the middle of something
// feeds the watchdog no more, although its pages are served; likewise one whose pages hang, although its lane turns.
func TestAStationThatHangsFeedsNoWatchdog(t *testing.T) {
	for name, hang := range map[string]func(lane, pages chan struct{}){
		"a lane":    func(lane, _ chan struct{}) { close(lane) },
		"the pages": func(_, pages chan struct{}) { close(pages) },
	} {
		t.Run(name, func(t *testing.T) {
			at := filepath.Join(t.TempDir(), "n")
			t.Setenv("NOTIFY_SOCKET", at)
			t.Setenv("WATCHDOG_USEC", "20000000")
			socket, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: at, Net: "unixgram"})
			require.NoError(t, err)
			defer socket.Close()
			synctest.Test(t, func(t *testing.T) { hangs(t, hang, func() string { synctest.Wait(); return came(t, socket) }) })
		})
	}
}

func hangs(t *testing.T, hang func(lane, pages chan struct{}), told func() string) {
	store, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "r.sqlite"))
	require.NoError(t, err)
	p, err := product.Load("../../../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	laneHangs, pagesHang, free := make(chan struct{}), make(chan struct{}), make(chan struct{})
	stuck := func(on chan struct{}) {
		select {
		case <-on:
			<-free
		default:
		}
	}
	lane := station.NewLane(station.Setup{Store: store, Product: p, Jig: "J-0042",
		Find: func(ctx context.Context, _ string, _ link.Options) (*fixture.Jig, string, error) {
			stuck(laneHangs)
			return nil, "", link.ErrLost
		}})
	site, err := web.New(web.Config{Store: store, Lanes: []*station.Lane{lane}, Hosts: []string{"localhost:1"}})
	require.NoError(t, err)
	s := &Station{Lanes: []*station.Lane{lane}, Site: site, host: "localhost:1"}
	s.before = func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { stuck(pagesHang); next.ServeHTTP(w, r) })
	}
	bound := bounded(make(calls), 8)
	ctx, end := context.WithCancel(t.Context())
	over := make(chan error, 1)
	go func() { over <- s.Serve(ctx, &Listener{bound, bound}, func(string) {}) }()
	time.Sleep(time.Second)
	assert.Contains(t, told(), "READY=1\nSTATUS=1 lane, pages at http://", "without its jig as well: the pages say so")
	for range 100 { // more waits for whoever reads it: a socket has room for few
		time.Sleep(20 * time.Second)
		assert.Equal(t, 4, strings.Count(told(), "WATCHDOG=1"), "four times in each period")
	}
	hang(laneHangs, pagesHang)
	time.Sleep(pulse.BetweenTurns + 5*time.Second)
	told() // until then it may have its reasons
	time.Sleep(time.Hour)
	assert.NotContains(t, told(), "WATCHDOG=1", "it does not turn")
	close(free)
	time.Sleep(10 * time.Second)
	assert.Contains(t, told(), "WATCHDOG=1", "it turns again")
	end()
	assert.NoError(t, <-over)
	assert.Equal(t, "STOPPING=1\n", told())
	assert.NoError(t, store.Close())
}

// One lane of several that hangs ends nobody's work: it is reported, and the watchdog is fed as long as another lane is in use.
func TestALaneThatHangsEndsNoOthersWork(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "r.sqlite"))
		require.NoError(t, err)
		p, err := product.Load("../../../../testdata/products/gcc-20.yaml")
		require.NoError(t, err)
		sim, err := jigsim.New(jigsim.Config{Identity: jigsim.Defaults(), Keypad: p.Circuit(), Contact: p.Nominal.Contact, Pace: true})
		require.NoError(t, err)
		var ports simport.Ports
		ports.Plug("sim/0", sim)
		free := make(chan struct{})
		hangs := station.NewLane(station.Setup{Store: store, Product: p, Jig: "J-0042",
			Find: func(context.Context, string, link.Options) (*fixture.Jig, string, error) {
				<-free
				return nil, "", link.ErrLost
			}})
		works := station.NewLane(station.Setup{Store: store, Product: p, Jig: "sim/0", Open: ports.Open, Find: ports.Find, Twice: time.Nanosecond})
		s := &Station{Lanes: []*station.Lane{hangs, works}}
		var reported []string
		parts := s.parts(ready.Part{}, func(why string) { reported = append(reported, why) })
		turns := func(n int) error { return parts[n].Turns(t.Context()) }
		ctx, end := context.WithCancel(t.Context())
		var both sync.WaitGroup
		for _, lane := range s.Lanes {
			assert.Error(t, lane.Turning(), "it has not begun")
			both.Go(func() { lane.Run(ctx) })
		}
		time.Sleep(pulse.BetweenTurns + time.Second)
		assert.NoError(t, turns(2)) // is looked at
		for n := range 20 {         // somebody works at the other one
			works.Scan(station.Scan{Serial: fmt.Sprint("no number ", n), Operator: "Abel"})
			time.Sleep(2 * time.Minute)
			assert.NoError(t, turns(2))
			assert.NoError(t, turns(1), "the other lane is in use")
		}
		require.Len(t, reported, 1, "once")
		assert.Contains(t, reported[0], "lane 1 has stood still")
		time.Sleep(inUse)
		assert.NoError(t, turns(2))
		assert.ErrorContains(t, turns(1), "has stood still", "nobody works: it may be started again")
		assert.NoError(t, turns(2))
		close(free)
		time.Sleep(time.Second)
		assert.NoError(t, turns(1))
		end()
		both.Wait()
		ports.Close()
		assert.NoError(t, store.Close())
	})
}

// came is what has come to a socket, without waiting for more.
func came(t *testing.T, socket *net.UnixConn) string {
	t.Helper()
	raw, err := socket.SyscallConn()
	require.NoError(t, err)
	var all strings.Builder
	part := make([]byte, 4096)
	require.NoError(t, raw.Read(func(fd uintptr) bool {
		for {
			n, _, err := syscall.Recvfrom(int(fd), part, syscall.MSG_DONTWAIT)
			if err != nil {
				return true
			}
			all.Write(append(part[:n:n], '\n'))
		}
	}))
	return all.String()
}
