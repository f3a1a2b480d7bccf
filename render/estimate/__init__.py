"""What a finish needs: quantities, purchase, time, price, cautions."""
