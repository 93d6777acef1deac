"""The backend that settings name as the database's engine."""

import select

from django.db.backends.postgresql import base


class DatabaseWrapper(base.DatabaseWrapper):
    """Asks the server only where its silence is in doubt: a question before each request is a tenth of a read."""

    def is_usable(self) -> bool:
        """Tell whether the connection can be used.

        A server that went away, or ended the session, has sent its farewell or closed the socket: both can be read.
        """
        if self.connection is None or self.connection.closed:
            return False
        waiting = select.poll()
        waiting.register(self.connection.fileno(), select.POLLIN | select.POLLERR | select.POLLHUP)
        return super().is_usable() if waiting.poll(0) else True
