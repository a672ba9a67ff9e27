"""Gas and oxygen over time: exact steps, exchange, injection, the indicator cell, the baseline cup."""
