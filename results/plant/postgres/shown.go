package postgres

import (
	"context"
	"crypto/tls"
	"database/sql"
	"errors"
	"net"
	"time"
)

// Shown is how the two ends of a connection showed who they are.
type Shown struct {
	Plain       bool      // neither did, over a network: what goes by can be read and changed
	Server, Own time.Time // until when the certificates of the server and of this end hold; zero where there is none
}

// ShownBy tells of a connection how its ends showed who they are.
func ShownBy(_ context.Context, c *sql.Conn) (s Shown, err error) {
	err = c.Raw(func(driver any) error {
		raw, ok := driver.(*conn)
		if !ok {
			return errors.New("this is no connection to PostgreSQL")
		}
		under := raw.Conn.Conn().PgConn().Conn()
		encrypted, ok := under.(*tls.Conn)
		if !ok {
			_, local := under.(*net.UnixConn)
			s.Plain = !local
			return nil
		}
		if shown := encrypted.ConnectionState().PeerCertificates; len(shown) > 0 {
			s.Server = shown[0].NotAfter
		}
		if config := raw.Conn.Conn().Config().TLSConfig; config != nil && len(config.Certificates) > 0 && config.Certificates[0].Leaf != nil {
			s.Own = config.Certificates[0].Leaf.NotAfter
		}
		return nil
	})
	return s, err
}

// Denied reports whether the server answers and lets the role not in (class 28 of PostgreSQL's codes, appendix A).
func Denied(err error) bool {
	code := Code(err)
	return len(code) == 5 && code[:2] == "28"
}
