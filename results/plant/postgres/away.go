package postgres

import (
	"context"
	"database/sql/driver"
	"errors"
	"io"
	"net"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"
)

// Away reports whether an error says that the database does not answer, and nothing of what
// was asked: it cannot be reached, is starting or ending, has no connection left, or a
// connection broke off. What was asked may be asked again when it is back. A server that does not
// show who it is answers: see [Untrusted].
func Away(err error) bool {
	if err == nil || errors.Is(err, context.Canceled) || Untrusted(err) {
		return false
	}
	if of, is := errors.AsType[*pgconn.PgError](err); is {
		// Classes of SQLSTATE, PostgreSQL documentation, appendix A: 08 connection exception, 53 insufficient
		// resources, 57P operator intervention (shutdown, cannot connect now).
		return strings.HasPrefix(of.Code, "08") || strings.HasPrefix(of.Code, "53") || strings.HasPrefix(of.Code, "57P")
	}
	if _, is := errors.AsType[*pgconn.ConnectError](err); is {
		return true
	}
	if _, is := errors.AsType[net.Error](err); is {
		return true
	}
	return errors.Is(err, driver.ErrBadConn) || errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) ||
		errors.Is(err, net.ErrClosed) || pgconn.SafeToRetry(err)
}
