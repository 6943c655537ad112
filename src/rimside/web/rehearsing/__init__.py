"""The rehearsal: the leader's clock and page, the players' phones, and the line between them."""
