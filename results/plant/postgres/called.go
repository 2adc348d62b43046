package postgres

import (
	"fmt"
	"net"
	"strconv"

	"github.com/jackc/pgx/v5"
)

// Called is what a database is called in messages, by its address: without the user and the password.
func Called(address string) (string, error) {
	config, err := pgx.ParseConfig(address)
	if err != nil {
		return "", fmt.Errorf("address of the plant's database: %w", err) // pgx leaves passwords out
	}
	return fmt.Sprintf("database %s at %s", config.Database, net.JoinHostPort(config.Host, strconv.Itoa(int(config.Port)))), nil
}
