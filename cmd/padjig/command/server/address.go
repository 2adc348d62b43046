package server

import (
	"errors"
	"fmt"
	"io/fs"
	"net"
	"strconv"
	"strings"
	"syscall"

	"padjig/cmd/padjig/command"
)

// Where a station serves its pages when nobody says otherwise.
const (
	usualHost    = "127.0.0.1"
	usualPort    = "8317"
	UsualAddress = usualHost + ":" + usualPort
)

// WrongAddress refuses an address that is not HOST:PORT.
func WrongAddress(listen string) error {
	host, port, err := net.SplitHostPort(listen)
	switch {
	case err != nil || port == "":
		return command.Fail(command.Wrong, fmt.Errorf("--listen %s: write HOST:PORT", listen), "--listen "+meantAddress(listen))
	case !isPort(port):
		return command.Fail(command.Wrong, fmt.Errorf("--listen %s: %q is no port, a number up to 65535", listen, port),
			"--listen "+net.JoinHostPort(host, usualPort))
	}
	return nil
}

func isPort(text string) bool {
	_, err := strconv.ParseUint(text, 10, 16)
	return err == nil
}

// meantAddress makes the best of half an address, or of one with too much.
func meantAddress(text string) string {
	_, rest, found := strings.Cut(text, "://")
	if !found {
		rest = text
	}
	rest, _, _ = strings.Cut(rest, "/")
	rest = strings.TrimSuffix(rest, ":")
	switch host, port, err := net.SplitHostPort(rest); {
	case err == nil && isPort(port):
		return net.JoinHostPort(host, port)
	case isPort(rest):
		return net.JoinHostPort(usualHost, rest)
	case net.ParseIP(strings.Trim(rest, "[]")) != nil:
		return net.JoinHostPort(strings.Trim(rest, "[]"), usualPort)
	case rest == "" || strings.ContainsAny(rest, ": "):
		return UsualAddress
	}
	return net.JoinHostPort(rest, usualPort)
}

// onlyHere is the same port, served to this computer alone.
func onlyHere(listen string) string {
	_, port, err := net.SplitHostPort(listen)
	if err != nil {
		return UsualAddress
	}
	return net.JoinHostPort(usualHost, port)
}

// otherAddress says what to do when an address cannot be opened.
func otherAddress(err error) string {
	switch {
	case errors.Is(err, fs.ErrPermission):
		return "a port from 1024 on, such as --listen " + UsualAddress + "; those below belong to the superuser"
	case errors.Is(err, syscall.EADDRINUSE):
		return "another port, such as --listen 127.0.0.1:8318, or end what serves there: another station, perhaps"
	case errors.Is(err, syscall.EADDRNOTAVAIL):
		return "an address of this computer, such as --listen " + UsualAddress
	}
	return "another --listen, such as " + UsualAddress
}
