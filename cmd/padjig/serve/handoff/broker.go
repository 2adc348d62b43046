package handoff

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/url"
	"strings"

	"github.com/eclipse/paho.golang/packets"
	"github.com/eclipse/paho.golang/paho"
)

// broker publishes each event by MQTT 5 (OASIS) with QoS 1, and the next when the broker has
// acknowledged it. It keeps no session there: what was not acknowledged stands in the
// records, and is published anew on the next connection. The client id is always the same, so that a
// broker ends a connection of ours that it has not noticed to be dead.
type broker struct {
	address        string
	secure         bool
	client         string // id
	user, password string
	topic          string // with {product}, {unit} and {type}

	on *paho.Client // nil: not connected
}

const keepAlive = 30 // seconds

func (b *broker) Send(ctx context.Context, m Message) error {
	if b.on != nil {
		select {
		case <-b.on.Done():
			b.on = nil
		default:
		}
	}
	if b.on == nil {
		if err := b.connect(ctx); err != nil {
			return err
		}
	}
	ctx, cancel := whileConnected(ctx, b.on)
	defer cancel()
	form := byte(1) // text in UTF-8
	answer, err := b.on.Publish(ctx, &paho.Publish{
		QoS: 1, Topic: b.topicOf(m), Payload: m.Body,
		Properties: &paho.PublishProperties{
			PayloadFormat: &form, ContentType: "application/json", User: paho.UserProperties{{Key: "id", Value: m.ID}},
		},
	})
	if answer != nil && answer.ReasonCode >= 0x80 {
		return said(answer.ReasonCode, err)
	}
	if err != nil {
		err = cmp.Or(context.Cause(ctx), err)
		b.Close() // whether it arrived is not known: the next connection publishes it anew
	}
	return err
}

var errLost = errors.New("the connection to the broker was lost before it acknowledged")

// whileConnected ends with the connection: the library waits for acknowledgements of one that
// is gone as long as it may.
func whileConnected(ctx context.Context, client *paho.Client) (context.Context, func()) {
	ctx, cancel := context.WithCancelCause(ctx)
	go func() {
		select {
		case <-client.Done():
			cancel(errLost)
		case <-ctx.Done():
		}
	}()
	return ctx, func() { cancel(nil) }
}

// said tells what the broker will never take from what it may take later.
func said(reason byte, err error) error {
	switch reason {
	case packets.PubackNotAuthorized, packets.PubackTopicNameInvalid, packets.PubackPayloadFormatInvalid:
		return &RefusedError{err.Error()}
	}
	return err
}

func (b *broker) connect(ctx context.Context) error {
	var conn net.Conn
	var err error
	if b.secure {
		conn, err = (&tls.Dialer{Config: &tls.Config{MinVersion: tls.VersionTLS12}}).DialContext(ctx, "tcp", b.address)
	} else {
		conn, err = new(net.Dialer).DialContext(ctx, "tcp", b.address)
	}
	if err != nil {
		return err
	}
	client := paho.NewClient(paho.ClientConfig{
		Conn: packets.NewThreadSafeConn(conn), PacketTimeout: sendFor,
		OnClientError: func(error) {}, OnServerDisconnect: func(*paho.Disconnect) {}, // the next message finds it closed
	})
	_, err = client.Connect(ctx, &paho.Connect{
		ClientID: b.client, KeepAlive: keepAlive, CleanStart: true,
		Username: b.user, UsernameFlag: b.user != "", Password: []byte(b.password), PasswordFlag: b.password != "",
	})
	if err != nil {
		return errors.Join(fmt.Errorf("connect to the broker: %w", err), closed(conn))
	}
	b.on = client
	return nil
}

func closed(conn net.Conn) error {
	if err := conn.Close(); !errors.Is(err, net.ErrClosed) {
		return err
	}
	return nil
}

// topicOf puts in what the event is about; what would be more than one level is escaped as in
// an address.
func (b *broker) topicOf(m Message) string {
	level := func(text string) string {
		if text == "" {
			return "-"
		}
		return strings.ReplaceAll(url.PathEscape(text), "+", "%2B")
	}
	return strings.NewReplacer("{product}", level(m.Product), "{unit}", level(m.Unit), "{type}", string(m.Kind)).Replace(b.topic)
}

func (b *broker) Close() {
	if b.on != nil {
		_ = b.on.Disconnect(&paho.Disconnect{}) // closes the connection in any case
		b.on = nil
	}
}
