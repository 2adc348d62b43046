package handoff

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/eclipse/paho.golang/paho"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// mosquitto is a real broker, which can be killed and started again at its address.
type mosquitto struct {
	testing.TB
	config, address string
	process         *exec.Cmd
}

// freeAddress is one that nobody listens at.
func freeAddress(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	return l.Addr().String()
}

func newMosquitto(t testing.TB, more string) *mosquitto {
	t.Helper()
	folder := t.TempDir()
	b := &mosquitto{TB: t, config: filepath.Join(folder, "mosquitto.conf"), address: freeAddress(t)}
	_, port, err := net.SplitHostPort(b.address)
	require.NoError(t, err)
	text := fmt.Sprintf("listener %s 127.0.0.1\npersistence_location %s/\nuser root\n%s\n", port, folder, more)
	require.NoError(t, os.WriteFile(b.config, []byte(text), 0o600))
	t.Cleanup(b.kill)
	return b
}

// start starts it, and waits until it listens.
func (b *mosquitto) start() {
	b.Helper()
	path, err := exec.LookPath("mosquitto")
	if err != nil {
		path = "/usr/sbin/mosquitto" // Debian puts it where only root looks
	}
	b.process = exec.Command(path, "-c", b.config)
	require.NoError(b, b.process.Start(), "make tools installs it")
	require.Eventually(b, func() bool {
		conn, err := net.Dial("tcp", b.address)
		if err != nil {
			return false
		}
		return conn.Close() == nil
	}, time.Minute, 5*time.Millisecond)
}

// kill ends it as a power cut does.
func (b *mosquitto) kill() {
	if b.process != nil {
		_ = b.process.Process.Kill()
		_ = b.process.Wait()
		b.process = nil
	}
}

// subscribe takes what comes to a topic, until the broker or the test ends.
func (b *mosquitto) subscribe(r *taken, topic string) {
	b.Helper()
	conn, err := net.Dial("tcp", b.address)
	require.NoError(b, err)
	client := paho.NewClient(paho.ClientConfig{Conn: conn, OnPublishReceived: []func(paho.PublishReceived) (bool, error){
		func(p paho.PublishReceived) (bool, error) {
			assert.Equal(b, "application/json", p.Packet.Properties.ContentType)
			assert.Contains(b, string(p.Packet.Payload), `"id":"`+p.Packet.Properties.User.Get("id")+`"`)
			assert.False(b, p.Packet.Retain)
			r.take(p.Packet.Payload)
			return true, nil
		}}})
	_, err = client.Connect(b.Context(), &paho.Connect{ClientID: "mes", CleanStart: true, KeepAlive: 30})
	require.NoError(b, err)
	b.Cleanup(func() { _ = client.Disconnect(&paho.Disconnect{}) })
	_, err = client.Subscribe(b.Context(), &paho.Subscribe{Subscriptions: []paho.SubscribeOptions{{Topic: topic, QoS: 1}}})
	require.NoError(b, err)
}

// wire is what lies between station and broker: it can be unplugged, slow, and lose
// acknowledgements.
type wire struct {
	testing.TB
	to      string
	cut     func(n int) bool // of the nth acknowledgement: it is lost, and the connection with it
	plugged atomic.Bool
	acks    atomic.Int32
	listen  net.Listener
	copying sync.WaitGroup
}

func newWire(t testing.TB, to string) *wire {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	w := &wire{TB: t, to: to, listen: l, cut: func(int) bool { return false }}
	w.copying.Go(w.serve)
	t.Cleanup(func() { l.Close(); w.copying.Wait() })
	return w
}

func (w *wire) serve() {
	for {
		near, err := w.listen.Accept()
		if err != nil {
			return
		}
		far, err := net.Dial("tcp", w.to)
		if err != nil || !w.plugged.Load() {
			near.Close()
			if err == nil {
				far.Close()
			}
			continue
		}
		both := func() { near.Close(); far.Close() }
		w.copying.Go(func() { defer both(); _, _ = io.Copy(far, near) })
		w.copying.Go(func() { defer both(); w.back(near, far) })
	}
}

// back brings what the broker says, slowly: the packets of a sender that waits for each come
// one by one.
func (w *wire) back(near, far net.Conn) {
	packet := make([]byte, 4096)
	for {
		n, err := far.Read(packet)
		if err != nil || !w.plugged.Load() {
			return
		}
		time.Sleep(5 * time.Millisecond)
		if acknowledged := packet[0]>>4 == 4; acknowledged && w.cut(int(w.acks.Add(1))) {
			return
		}
		if _, err := near.Write(packet[:n]); err != nil {
			return
		}
	}
}

func (w *wire) sender(topic string) Sender {
	return quick{&broker{address: w.listen.Addr().String(), client: "padjig-test", topic: topic}}
}

// A broker that is down, killed while it is sent to, started again with and without what it
// kept, behind a wire that is slow and loses acknowledgements: at the end who listens there
// has what is stored, in the same order.
func TestBrokerBothSidesEqual(t *testing.T) {
	for _, persistence := range []string{"true", "false"} {
		t.Run("persistence "+persistence, func(t *testing.T) {
			h, r := newHouse(t), &taken{}
			b := newMosquitto(t, "allow_anonymous true\npersistence "+persistence)
			w := newWire(t, b.address)
			w.cut = func(n int) bool { return n%4 == 0 }
			end := h.hand(w.sender("plant/{product}/{type}"))
			h.save(1, 2, 3)
			eventually(t, func() bool { _, _, why := h.progress(); return why != "" })
			for round := range 3 {
				b.start()
				b.subscribe(r, "plant/GH-20/#")
				w.plugged.Store(true)
				for i := range 8 {
					h.save(10*round + 10 + i)
				}
				before := 8 * round
				eventually(t, func() bool { return len(r.once()) > before+4 })
				if round < 2 {
					b.kill()
					w.plugged.Store(false)
				}
			}
			eventually(t, h.all(r))
			end()
			r.sound(h)
			assert.Greater(t, len(r.ids), len(r.once()), "what was not acknowledged came again")
		})
	}
}

// A broker that does not let us in is told of as it is, and waited for; one that does not
// take our topic has refused.
func TestBrokerThatRefuses(t *testing.T) {
	b := newMosquitto(t, "allow_anonymous false\npassword_file /dev/null")
	b.start()
	m := Message{ID: "1", Kind: "run", Product: "GH-20", Body: []byte(`{"id":"1"}`)}
	one := &broker{address: b.address, client: "padjig-test", topic: "plant", user: "padjig", password: "no"}
	err := one.Send(t.Context(), m)
	require.Error(t, err)
	_, refused := errors.AsType[*RefusedError](err)
	assert.False(t, refused, "somebody may mend the account")
	b.kill()

	lists := filepath.Join(t.TempDir(), "acl")
	require.NoError(t, os.WriteFile(lists, []byte("topic read #\n"), 0o600))
	b = newMosquitto(t, "allow_anonymous true\nacl_file "+lists)
	b.start()
	one = &broker{address: b.address, client: "padjig-test", topic: "plant"}
	defer one.Close()
	err = one.Send(t.Context(), m)
	_, refused = errors.AsType[*RefusedError](err)
	assert.True(t, refused, err)
	assert.ErrorContains(t, err, "authorized")
}

// Who answers nothing, or nonsense, is no broker, and is not waited for longer than an event may take.
func TestNoBroker(t *testing.T) {
	for name, says := range map[string]string{"nothing": "", "another protocol": "HTTP/1.1 400 Bad Request\r\n\r\n", "nonsense": strings.Repeat("\xff", 100)} {
		t.Run(name, func(t *testing.T) {
			l, err := net.Listen("tcp", "127.0.0.1:0")
			require.NoError(t, err)
			defer l.Close()
			var serving sync.WaitGroup
			serving.Go(func() {
				conn, err := l.Accept()
				if err != nil {
					return
				}
				defer conn.Close()
				_, _ = io.WriteString(conn, says)
				_, _ = io.Copy(io.Discard, conn)
			})
			ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
			defer cancel()
			b := &broker{address: l.Addr().String(), client: "padjig-test", topic: "plant"}
			assert.Error(t, b.Send(ctx, Message{ID: "1", Body: []byte("{}")}))
			b.Close()
			serving.Wait()
		})
	}
}
